"""Sample bars: marked, listed, ended."""

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import CountField, KeyField, TextField
from api.filtering import FlagFilter, KeyFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.curing.models import SampleBar
from curehouse.flows.end_bar import end_bar
from curehouse.flows.mark_bars import mark_bars
from curehouse.making.models import Batch
from curehouse.workshops.roles import Right


class SampleBarOut(serializers.ModelSerializer):
    """A marked bar that stands for its batch."""

    batch_name = serializers.CharField(source="batch.__str__", read_only=True)

    class Meta:
        model = SampleBar
        fields = read_only_fields = ["id", "batch", "batch_name", "letter", "ended_at", "ended_why"]


class MoreBarsIn(Body):
    """How many more bars of a batch are to be marked."""

    batch = KeyField()
    sample_bars = CountField()


class EndIn(Body):
    """What became of a sample bar."""

    why = TextField(max_length=200)


class SampleBarFilters(filters.FilterSet):
    """Which sample bars."""

    batch = KeyFilter(field_name="batch")
    weighed = FlagFilter(field_name="ended_at", lookup_expr="isnull", help_text="true: those that are still weighed.")


def bars_shown(view: WorkshopView) -> QuerySet[SampleBar]:
    """Return the sample bars with their batches' names."""
    return SampleBar.objects.within(view.workshop).select_related("batch__formula")


class SampleBars(Listing):
    """The workshop's sample bars."""

    reads = Right.SEE_ROUND
    writes = Right.WEIGH
    model = SampleBar
    serializer_class = SampleBarOut
    filterset_class = SampleBarFilters
    rows = bars_shown

    @extend_schema(request=MoreBarsIn, responses={201: SampleBarOut(many=True)}, filters=False)
    def post(self, request: Request) -> Response:
        """Mark more bars of a batch, with the next letters."""
        sent = self.body(MoreBarsIn)
        batches = Batch.objects.within(self.workshop).select_related("formula")
        batch = self.here(batches, sent["batch"], what="batch", field="batch")
        bars = mark_bars(actor=self.actor, batch=batch, count=sent["sample_bars"], at=self.at)
        return Response(self.get_serializer(bars, many=True).data, status=status.HTTP_201_CREATED)


class OneSampleBar(Detail):
    """A sample bar."""

    reads = Right.SEE_ROUND
    model = SampleBar
    serializer_class = SampleBarOut
    rows = bars_shown


class EndSampleBar(Detail):
    """The end of a sample bar."""

    reads = Right.SEE_ROUND
    writes = Right.WEIGH
    model = SampleBar
    serializer_class = SampleBarOut
    rows = bars_shown
    http_method_names = ("post", "options")

    @extend_schema(request=EndIn, responses={200: SampleBarOut})
    def post(self, request: Request, pk: int) -> Response:
        """Note that a sample bar is gone (sold early, broken): it is not weighed any more."""
        bar = self.here(bars_shown(self), pk, what="sample bar")
        end_bar(actor=self.actor, bar=bar, why=self.body(EndIn)["why"], at=self.at)
        return Response(self.shown(pk))
