"""What past forecasts came to."""

from dataclasses import asdict
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.views import WorkshopView
from curehouse.core.cure.past_told import LEAST_BATCHES, PROMISED, Promise
from curehouse.curing.models import Forecast
from curehouse.curing.past_forecasts import Past, past_forecasts
from curehouse.workshops.roles import Right


class RangesHeldOut(serializers.Serializer):
    """How ranges of one kind did; errors are told less came, null where fewer than `least_batches` tell."""

    batches = serializers.IntegerField(help_text="Batches that tell of it.")
    ranges = serializers.IntegerField(help_text="Their ranges: one each of the ready day, one a sample bar of weights.")
    held = serializers.IntegerField(help_text="How many of these held.")
    mean_error = serializers.FloatField(allow_null=True, help_text="Mean size of the middles' errors, in days or grams.")
    bias = serializers.FloatField(allow_null=True, help_text="Mean error of the middles, in days or grams.")
    promise = serializers.ChoiceField(
        choices=[one.value for one in Promise], help_text="Whether they held as often as is promised, by the binomial test."
    )


class SoftToldOut(serializers.Serializer):
    """Of batches told as likely too soft, how many were; of those too soft, how many had been told."""

    batches = serializers.IntegerField()
    told = serializers.IntegerField()
    told_and_were = serializers.IntegerField()
    were = serializers.IntegerField()
    were_and_told = serializers.IntegerField()


class ScoreOut(serializers.Serializer):
    """How forecasts after so many weighings did; the last number stands for itself and more."""

    weighings = serializers.IntegerField()
    ready = RangesHeldOut(help_text="Days.")
    weight = RangesHeldOut(help_text="Grams.")
    soft = SoftToldOut()


class UncountedOut(serializers.Serializer):
    """Batches that are not counted, by why not."""

    going_on = serializers.IntegerField(help_text="They still cure.")
    still_wet = serializers.IntegerField(help_text="They left before they were dry enough.")
    not_weighed = serializers.IntegerField(help_text="They were not weighed to their end.")
    too_far_apart = serializers.IntegerField(help_text="Dry enough between weighings more than ten days apart.")
    told_late = serializers.IntegerField(help_text="Foretold only once they were dry enough.")


class PastOut(serializers.Serializer):
    """Forecasts of one source."""

    batches = serializers.IntegerField(help_text="Whose days named are known to have held or not.")
    uncounted = UncountedOut()
    scores = ScoreOut(many=True)


class PastForecastsOut(serializers.Serializer):
    """What was foretold, held against what was weighed later; as the page of past forecasts has it."""

    promised = serializers.FloatField(help_text="The share of ranges that is to hold.")
    least_batches = serializers.IntegerField(help_text="By fewer nothing is said.")
    told = PastOut(help_text="What was told here.")
    told_again = PastOut(allow_null=True, help_text="What ended cures would have been told; null until a night has told them.")


class PastForecasts(WorkshopView):
    """How far the workshop's forecasts were right."""

    reads = Right.SEE
    model = Forecast
    serializer_class = PastForecastsOut

    def get(self, request: Request) -> Response:
        """Show what they came to."""
        past = past_forecasts(self.workshop)
        shown = {
            "promised": PROMISED,
            "least_batches": LEAST_BATCHES,
            "told": _shown(past.told),
            "told_again": None if past.replayed is None else _shown(past.replayed),
        }
        return Response(PastForecastsOut(shown).data)


def _shown(past: Past) -> dict[str, Any]:
    return {
        "batches": past.counted,
        "uncounted": {name: past.uncounted.get(name, 0) for name in UncountedOut().fields},
        "scores": [asdict(one) for one in past.scores],
    }
