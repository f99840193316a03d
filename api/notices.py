"""What the house tells."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.filtering import ChoiceFilter, KeyFilter
from api.views import Detail, Listing, WorkshopView
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import see_to
from curehouse.workshops.roles import Right


class DeliveryOut(serializers.ModelSerializer):
    """A notice's way to one person."""

    to = serializers.CharField(source="user.name", read_only=True)
    state_words = serializers.CharField(source="get_state_display", read_only=True)

    class Meta:
        model = Delivery
        fields = read_only_fields = ["to", "channel", "state", "state_words", "attempts", "last_error", "ended_at"]


class NoticeOut(serializers.ModelSerializer):
    """A notice, and what became of it."""

    deliveries = DeliveryOut(many=True, read_only=True)

    class Meta:
        model = Notice
        fields = read_only_fields = [
            "id",
            "kind",
            "about",
            "title",
            "body",
            "path",
            "state",
            "closed_why",
            "closed_at",
            "written_at",
            "deliveries",
        ]


class NoticeFilters(filters.FilterSet):
    """Which notices."""

    state = ChoiceFilter(choices=Notice.State.choices)
    kind = ChoiceFilter(choices=[(str(kind), str(kind)) for kind in Kind])
    batch = KeyFilter(method="about_batch")

    def about_batch(self, rows: QuerySet[Notice], name: str, value: int) -> QuerySet[Notice]:
        """Return what is told of one batch."""
        return rows.about(f"batch:{value}")


def notices_shown(view: WorkshopView) -> QuerySet[Notice]:
    """Return the notices with their deliveries."""
    return Notice.objects.within(view.workshop).prefetch_related("deliveries__user")


class Notices(Listing):
    """The workshop's notices."""

    reads = Right.SEE
    model = Notice
    serializer_class = NoticeOut
    filterset_class = NoticeFilters
    ordering_fields = ("written_at", "id")
    ordering = "-id"
    rows = notices_shown


class OneNotice(Detail):
    """A notice."""

    reads = Right.SEE
    model = Notice
    serializer_class = NoticeOut
    rows = notices_shown


class Attend(Detail):
    """Attending to a notice."""

    reads = Right.SEE
    writes = Right.POUR
    model = Notice
    serializer_class = NoticeOut
    rows = notices_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: NoticeOut})
    def post(self, request: Request, pk: int) -> Response:
        """Note that somebody saw to it; what has ended already stays as it ended."""
        notice = self.here(Notice.objects.within(self.workshop), pk, what="notice")
        see_to(actor=self.actor, notice=notice, at=self.at)
        return Response(self.shown(pk))
