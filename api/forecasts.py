"""What the house foretells of its batches, with what that was made of."""

from dataclasses import asdict
from datetime import date, timedelta

from django.db.models import DateField, QuerySet, Value
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.filtering import DayFilter, FlagFilter, KeyFilter, MomentFilter
from api.obstacles import Obstructed
from api.views import Detail, Listing, WorkshopView
from curehouse.common.time import local_day
from curehouse.core.cure.foretold_weights import bar_on
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.outlook import ready_chance
from curehouse.making.models import Batch
from curehouse.workshops.roles import Right


class BandOut(serializers.Serializer):
    """Eight of ten such batches lie between `p10` and `p90`, half below `p50`."""

    p10 = serializers.FloatField()
    p50 = serializers.FloatField()
    p90 = serializers.FloatField()


class NewBarOut(serializers.Serializer):
    """A bar that was not weighed, on a day since the cut, in grams."""

    day = serializers.FloatField()
    weight_g = BandOut()
    mean_g = serializers.FloatField()
    mean_sd_g = serializers.FloatField()
    bar_sd_g = serializers.FloatField()


class BarOnOut(serializers.Serializer):
    """A bar that was not weighed, on a day; what lies between the days of `asked.days` is read off straight lines."""

    on = serializers.DateField()
    day = serializers.FloatField(help_text="Days since the cut.")
    weight_g = BandOut()
    water_left_pct = BandOut(help_text="In % of the water that went in.")


class ForetoldOut(serializers.Serializer):
    """The figures, to the last digit; days count from the cut, lists follow `asked.days`."""

    key = serializers.CharField(help_text="The batch's number.")
    weighings = serializers.IntegerField(help_text="Rounds it rests on.")
    ready_day = BandOut(help_text="The horizon where it is not ready by then.")
    soft_probability = serializers.FloatField(help_text="That it is dry enough only after the latest day.")
    weight_g = serializers.DictField(child=BandOut(many=True), help_text="By sample bar.")
    new_bar = NewBarOut(many=True)
    water_left_pct = BandOut(many=True, help_text="In % of the water that went in.")
    odd_probability = serializers.FloatField(help_text="That the batch follows no rule of the house.")


class RuleOut(serializers.Serializer):
    """The ready rule it was made by."""

    min_days = serializers.IntegerField()
    weekly_loss_limit_pct = serializers.FloatField()
    water_left_limit_pct = serializers.FloatField(allow_null=True)
    latest_day = serializers.IntegerField()
    soft_water_of_bar_pct = serializers.FloatField(allow_null=True)
    horizon_days = serializers.IntegerField()


class AskedOut(serializers.Serializer):
    """What was asked: the rule, the step of the scale, the days since the cut."""

    rule = RuleOut()
    step_g = serializers.FloatField()
    days = serializers.ListField(child=serializers.FloatField())


class ChanceOut(serializers.Serializer):
    """A probability, no finer than it is known: it lies from `low` to `high`, often the same."""

    low = serializers.FloatField()
    high = serializers.FloatField()


class ForecastOut(Obstructed):
    """What is foretold of a batch as of its last weighing; the same inputs have the same `fingerprint` and figures."""

    asked = AskedOut(read_only=True)
    foretold = ForetoldOut(read_only=True)
    prior_version = serializers.IntegerField(
        source="prior.version", read_only=True, default=None, allow_null=True, help_text="null: no cure of the house taught it."
    )
    cures_learnt_from = serializers.IntegerField(source="prior.cures", read_only=True, default=0)
    heard_log = serializers.SerializerMethodField(help_text="Whether a log of the room's air was at hand for its weighings.")
    ready_from = serializers.SerializerMethodField(help_text="The first day of the ready window; null: not within the horizon.")
    ready_by = serializers.SerializerMethodField(help_text="Its last day; null: perhaps not within the horizon.")
    ready_chance = serializers.SerializerMethodField(
        help_text="That it is ready by the day `ready_on`; null: none was asked for."
    )

    at_ready = serializers.SerializerMethodField(
        help_text="A bar when half of such batches are dry enough; null: not within the horizon."
    )
    on_that_day = serializers.SerializerMethodField(help_text="A bar on the day `ready_on`; null: none was asked for.")

    class Meta:
        model = Forecast
        fields = read_only_fields = [
            "id",
            "batch",
            "moment",
            "in_the_way",
            "ready_from",
            "ready_by",
            "ready_chance",
            "at_ready",
            "on_that_day",
            "asked",
            "foretold",
            "prior_version",
            "cures_learnt_from",
            "heard_log",
            "method",
            "fingerprint",
            "written_at",
        ]

    def get_heard_log(self, row: Forecast) -> bool:
        """Return whether the part of a log it heard is among what it rests on."""
        return row.room_id is not None

    def get_ready_from(self, row: Forecast) -> date | None:
        """Return the day from which one in ten such batches is ready."""
        return self._day(row, "p10")

    def get_ready_by(self, row: Forecast) -> date | None:
        """Return the day by which nine in ten are."""
        return self._day(row, "p90")

    @extend_schema_field(ChanceOut(allow_null=True))
    def get_ready_chance(self, row: Forecast) -> dict[str, float] | None:
        """Return how likely such a batch is ready by the day that was asked for."""
        day = getattr(row, "ready_on", None)
        if day is None:
            return None
        return asdict(ready_chance(row, on=day, cut_on=self._cut_on(row)))

    @extend_schema_field(BarOnOut(allow_null=True))
    def get_at_ready(self, row: Forecast) -> dict[str, object] | None:
        """Return a bar on the day by which half of such batches are dry enough."""
        day = self._day(row, "p50")
        return None if day is None else self._bar_on(row, day)

    @extend_schema_field(BarOnOut(allow_null=True))
    def get_on_that_day(self, row: Forecast) -> dict[str, object] | None:
        """Return a bar on the day that was asked for."""
        day = getattr(row, "ready_on", None)
        return None if day is None or day < self._cut_on(row) else self._bar_on(row, day)

    def _bar_on(self, row: Forecast, on: date) -> dict[str, object]:
        day = float((on - self._cut_on(row)).days)
        return {"on": on, **asdict(bar_on(row.asked["days"], row.foretold, day))}

    def _cut_on(self, row: Forecast) -> date:
        return local_day(row.batch.cut_at, self.context["request"].actor.workshop.time_zone)

    def _day(self, row: Forecast, name: str) -> date | None:
        days = row.foretold["ready_day"][name]
        if days >= row.asked["rule"]["horizon_days"]:
            return None
        return self._cut_on(row) + timedelta(days=round(days))


class ForecastFilters(filters.FilterSet):
    """Which forecasts."""

    batch = KeyFilter(field_name="batch")
    moment_after = MomentFilter(field_name="moment", lookup_expr="gte")
    moment_before = MomentFilter(field_name="moment", lookup_expr="lt")
    latest = FlagFilter(method="only_latest", help_text="true: the one that counts, of each batch in cure.")

    ready_on = DayFilter(
        method="with_ready_on", help_text="The day of `ready_chance` and `on_that_day`; it leaves nothing out."
    )

    def with_ready_on(self, rows: QuerySet[Forecast], name: str, value: date) -> QuerySet[Forecast]:
        """Return all of them, with the day that was asked for."""
        return rows.annotate(ready_on=Value(value, output_field=DateField()))

    def only_latest(self, rows: QuerySet[Forecast], name: str, value: bool) -> QuerySet[Forecast]:  # noqa: FBT001
        """Return the forecast each batch in cure goes by."""
        going_on = Cure.objects.within(self.request.actor.workshop).filter(ended_at__isnull=True, forecast__isnull=False)
        return rows.filter(pk__in=going_on.values("forecast")) if value else rows


def forecasts_shown(view: WorkshopView) -> QuerySet[Forecast]:
    """Return the forecasts."""
    return Forecast.objects.within(view.workshop).select_related("batch__formula", "batch__cure", "prior").with_obstacles()


class Forecasts(Listing):
    """The workshop's forecasts."""

    reads = Right.SEE
    model = Forecast
    serializer_class = ForecastOut
    filterset_class = ForecastFilters
    ordering_fields = ("moment", "id")
    ordering = "-moment"
    rows = forecasts_shown


class OneForecast(Detail):
    """A forecast."""

    reads = Right.SEE
    model = Forecast
    serializer_class = ForecastOut
    rows = forecasts_shown


class ForecastsOfBatch(Forecasts):
    """The forecasts of one batch."""

    def rows(self) -> QuerySet[Forecast]:
        """Return the batch's forecasts."""
        batch = self.here(Batch.objects.within(self.workshop), self.kwargs["pk"], what="batch")
        return forecasts_shown(self).filter(batch=batch)
