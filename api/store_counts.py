"""Store counts: the walks past all lots, who counted, and what they came to."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.filtering import FlagFilter
from api.movements import CountOut, counts_shown
from api.views import Detail, Listing, WorkshopView
from curehouse.flows.stock import end_store_count
from curehouse.workshops.roles import Right
from inventory.models import Count, StoreCount


class StoreCountOut(serializers.ModelSerializer):
    """A walk past all lots; begun with the first lot that was counted on it, ended once none was left."""

    lots_counted = serializers.IntegerField(read_only=True)
    lots_differing = serializers.IntegerField(read_only=True, help_text="How many of them were not as booked.")
    lots_by_eye = serializers.IntegerField(read_only=True, help_text="How many of them were judged by eye.")
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = StoreCount
        fields = read_only_fields = [
            "id",
            "begun_at",
            "ended_at",
            "lots_counted",
            "lots_differing",
            "lots_by_eye",
            "lots_left",
            "signed_by",
        ]


class StoreCountFilters(filters.FilterSet):
    """Which store counts."""

    ended = FlagFilter(field_name="ended_at", lookup_expr="isnull", exclude=True, help_text="false: the one under way.")


def store_counts_shown(view: WorkshopView) -> QuerySet[StoreCount]:
    """Return the store counts with all that is shown of them."""
    return StoreCount.objects.within(view.workshop).with_figures().select_related("by_user", "by_device")


class StoreCounts(Listing):
    """The workshop's store counts."""

    reads = Right.SEE
    model = StoreCount
    serializer_class = StoreCountOut
    filterset_class = StoreCountFilters
    ordering_fields = ("begun_at", "id")
    ordering = "-begun_at"
    rows = store_counts_shown


class OneStoreCount(Detail):
    """A store count."""

    reads = Right.SEE
    model = StoreCount
    serializer_class = StoreCountOut
    rows = store_counts_shown


class StoreCountCounts(Listing):
    """What was counted on one store count."""

    reads = Right.SEE
    model = Count
    serializer_class = CountOut
    ordering_fields = ("moment", "id")
    ordering = "id"

    def rows(self) -> QuerySet[Count]:
        """Return the counts on it, with what tells whether they were taken back."""
        row = self.here(StoreCount.objects.within(self.workshop), self.kwargs["pk"], what="store count")
        return counts_shown(self).filter(store_count=row)


class EndStoreCount(Detail):
    """Ending a store count."""

    reads = Right.SEE
    writes = Right.COUNT
    model = StoreCount
    serializer_class = StoreCountOut
    rows = store_counts_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: StoreCountOut})
    def post(self, request: Request, pk: int) -> Response:
        """End a store count before all lots were counted; what is left stays as it is booked."""
        row = self.here(StoreCount.objects.within(self.workshop), pk, what="store count")
        return Response(self.shown(end_store_count(actor=self.actor, store_count=row, at=self.at).pk))
