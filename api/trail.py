"""Who did what, for the workshop's owner; it can be read and nothing else."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from rest_framework import serializers

from api.filtering import ChoiceFilter, KeyFilter, MomentFilter, TextFilter
from api.views import Detail, Listing, WorkshopView
from curehouse.flows.deeds import WORDS
from curehouse.workshops.models import AuditEntry
from curehouse.workshops.roles import Right


class DeedOut(serializers.ModelSerializer):
    """A deed: when, by whom, what, and from where."""

    by = serializers.CharField(source="signed_by", read_only=True)

    class Meta:
        model = AuditEntry
        fields = read_only_fields = [
            "id",
            "at",
            "by",
            "by_user",
            "by_device",
            "command",
            "code",
            "said",
            "address",
            "from_address",
            "from_device",
        ]


class DeedFilters(filters.FilterSet):
    """Which deeds."""

    code = ChoiceFilter(choices=[(code, code) for code in WORDS])
    by_user = KeyFilter(field_name="by_user")
    by_device = KeyFilter(field_name="by_device")
    since = MomentFilter(field_name="at", lookup_expr="gte")
    before = MomentFilter(field_name="at", lookup_expr="lt")
    said = TextFilter(field_name="said", lookup_expr="icontains")


def deeds_shown(view: WorkshopView) -> QuerySet[AuditEntry]:
    """Return the deeds with who did them, to the owner."""
    return AuditEntry.objects.within(view.workshop).select_related("by_user", "by_device")


class Deeds(Listing):
    """The workshop's deeds."""

    reads = Right.KEEP_HOUSE
    model = AuditEntry
    serializer_class = DeedOut
    filterset_class = DeedFilters
    ordering_fields = ("at", "id")
    ordering = "-id"
    rows = deeds_shown


class OneDeed(Detail):
    """A deed."""

    reads = Right.KEEP_HOUSE
    model = AuditEntry
    serializer_class = DeedOut
    rows = deeds_shown
