"""Label weights: worked out of the forecast, and kept with a batch; nobody sends what one is to be."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, CountField, DayField, FigureField, GramsField, TextField
from api.filtering import KeyFilter
from api.forecasts import BandOut
from api.obstacles import ObstacleOut, Obstructed
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.time import local_day
from curehouse.curing.labels import LabelAsked, asked_again, chance_now, cut_for, days_of, find_label
from curehouse.curing.models import Cure, Forecast, LabelWeight
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.services.labels import keep_label
from curehouse.making.models import Batch
from curehouse.workshops.roles import Right


class HoldsOnOut(serializers.Serializer):
    """A day on which it has to hold, and what bars weigh then."""

    on = serializers.DateField()
    day = serializers.IntegerField(help_text="Days since the cut.")
    read_day = serializers.FloatField(help_text="The day of the forecast whose figures these are.")
    mean_g = serializers.FloatField(source="bars.mean_g")
    mean_sd_g = serializers.FloatField(source="bars.mean_sd_g")
    bar_sd_g = serializers.FloatField(source="bars.bar_sd_g")
    weight_g = BandOut(help_text="Of one bar, not of their average.")


class LabelOut(Obstructed):
    """A label weight that was chosen for a batch; the newest one counts."""

    forecast_fingerprint = serializers.CharField(source="forecast.fingerprint", read_only=True)
    days = serializers.SerializerMethodField(
        help_text="What bars weigh by the newest forecast when the label that counts has to hold; null as `chance_now`."
    )
    chance_now = serializers.SerializerMethodField(
        help_text="How likely the rule holds by the newest forecast, of the label that counts; null: of no other, or over."
    )
    still_allowed = serializers.SerializerMethodField(help_text="false: the newest forecast would not allow it any more.")
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = LabelWeight
        fields = read_only_fields = [
            "id",
            "batch",
            "in_the_way",
            "weight_g",
            "rule",
            "wrap",
            "packed_on",
            "shelf_months",
            "probability",
            "chance",
            "bars",
            "forecast",
            "forecast_fingerprint",
            "days",
            "chance_now",
            "still_allowed",
            "signed_by",
            "written_at",
        ]

    @extend_schema_field(HoldsOnOut(many=True, allow_null=True))
    def get_days(self, row: LabelWeight) -> list[dict[str, Any]] | None:
        """Return the days on which it has to hold, with what bars weigh then."""
        forecast = self._forecast(row)
        days = None if forecast is None else days_of(asked_again(row), forecast, self._cut_on(row))
        return None if days is None else HoldsOnOut(days, many=True).data

    def get_chance_now(self, row: LabelWeight) -> float | None:
        """Return how likely its rule holds by the newest forecast."""
        forecast = self._forecast(row)
        return None if forecast is None else chance_now(row, forecast, self._cut_on(row))

    def _forecast(self, row: LabelWeight) -> Forecast | None:
        """Return the forecast by which a label is looked at now; of one that counts no more there is none."""
        cure = row.batch.cure
        return None if cure.label_id != row.pk or cure.ended_at is not None else cure.forecast

    def _cut_on(self, row: LabelWeight) -> date:
        return local_day(row.batch.cut_at, self.context["request"].actor.workshop.time_zone)

    def get_still_allowed(self, row: LabelWeight) -> bool | None:
        """Return whether that is as likely as was wanted."""
        chance = self.get_chance_now(row)
        return None if chance is None else chance >= row.probability


class LabelQuery(Body):
    """What a label is to satisfy."""

    rule = ChoiceField(choices=LabelWeight.Rule.choices)
    wrap = ChoiceField(choices=LabelWeight.Wrap.choices, default=LabelWeight.Wrap.OPEN)
    packed_on = DayField()
    shelf_months = CountField(help_text="0, 1, 2, 3, 6, 9 or 12; 0: it holds on the day of packing.")
    probability = FigureField(max_digits=4, decimal_places=3, help_text="0.9, 0.95 or 0.99.")


class ProposalQuery(LabelQuery):
    """What a label is to satisfy, and one that would be liked."""

    wanted_g = GramsField(required=False, min_value=Decimal(5), help_text="A label that would be liked.")


class LabelIn(LabelQuery):
    """What the label to be kept is to satisfy; its weight is worked out."""

    basis = TextField(
        max_length=100, required=False, default="", help_text="That of the proposal: another forecast by now is refused."
    )


class LabelProposalOut(serializers.Serializer):
    """The largest label weight that does, and how it was got. Local law decides what a label must say."""

    in_the_way = ObstacleOut(many=True, help_text="What stands in the way of its bars now, the gravest first.")
    weight_g = serializers.DecimalField(
        source="found.weight_g", max_digits=9, decimal_places=3, allow_null=True, help_text="null: none does."
    )
    chance = serializers.FloatField(source="found.label.probability", allow_null=True, default=None)
    next_up_g = serializers.FloatField(source="found.next_up.weight_g", allow_null=True, default=None)
    next_up_chance = serializers.FloatField(source="found.next_up.probability", allow_null=True, default=None)
    bars = serializers.IntegerField(source="found.bars")
    days = HoldsOnOut(source="found.days", many=True)
    cut_to_g = serializers.FloatField(allow_null=True, help_text="Average at the cut for `wanted_g`; null: not asked, or none.")
    forecast = serializers.IntegerField(source="found.forecast.pk")
    forecast_fingerprint = serializers.CharField(source="found.forecast.fingerprint")
    basis = serializers.CharField(source="found.basis", help_text="Send it along with what is kept.")


class LabelFilters(filters.FilterSet):
    """Which label weights."""

    batch = KeyFilter(field_name="batch")


def labels_shown(view: WorkshopView) -> QuerySet[LabelWeight]:
    """Return the label weights."""
    at_hand = ("batch__formula", "batch__cure__forecast", "forecast", "by_user", "by_device")
    return LabelWeight.objects.within(view.workshop).select_related(*at_hand).with_obstacles()


class Labels(Listing):
    """The workshop's label weights."""

    reads = Right.SEE
    model = LabelWeight
    serializer_class = LabelOut
    filterset_class = LabelFilters
    ordering_fields = ("id",)
    ordering = "-id"
    rows = labels_shown


class OneLabel(Detail):
    """A label weight."""

    reads = Right.SEE
    model = LabelWeight
    serializer_class = LabelOut
    rows = labels_shown


class LabelsOfBatch(Labels):
    """The label weights of one batch."""

    writes = Right.MAKE

    def _batch(self) -> Batch:
        return self.here(Batch.objects.within(self.workshop).select_related("formula"), self.kwargs["pk"], what="batch")

    def rows(self) -> QuerySet[LabelWeight]:
        """Return the batch's label weights."""
        return labels_shown(self).filter(batch=self._batch())

    @extend_schema(request=LabelIn, responses={201: LabelOut})
    def post(self, request: Request, pk: int) -> Response:
        """Keep the largest label weight that does."""
        batch = self._batch()
        sent = self.body(LabelIn)
        basis = sent.pop("basis")
        row = keep_label(actor=self.actor, batch=batch, asked=LabelAsked(**sent), seen=basis, at=self.at)
        return Response(self.get_serializer(labels_shown(self).get(pk=row.pk)).data, status=status.HTTP_201_CREATED)


class LabelProposal(Detail):
    """What a batch's label may say."""

    reads = Right.SEE
    model = Batch
    serializer_class = LabelProposalOut

    def rows(self) -> QuerySet[Batch]:
        """Return the batches."""
        return Batch.objects.within(self.workshop).select_related("formula")

    @extend_schema(parameters=[ProposalQuery], responses={200: LabelProposalOut})
    def get(self, request: Request, pk: int) -> Response:
        """Work out the largest label weight that does, and the cut for one that would be liked; nothing is kept."""
        batch = self.here(self.rows(), pk, what="batch")
        asked: dict[str, Any] = ProposalQuery().run_validation(request.query_params.dict())
        wanted_g = asked.pop("wanted_g", None)
        cure = (
            Cure.objects.within(self.workshop)
            .filter(batch=batch)
            .select_related("batch__formula", "forecast")
            .with_obstacles()
            .first()
        )
        forecast = None if cure is None else cure.forecast
        found = find_label(batch=batch, workshop=self.workshop, forecast=forecast, asked=LabelAsked(**asked))
        cut_to_g = None if wanted_g is None else cut_for(found, float(wanted_g))
        stays = obstacles_of(cure)
        return Response(LabelProposalOut({"found": found, "cut_to_g": cut_to_g, "in_the_way": stays}).data)
