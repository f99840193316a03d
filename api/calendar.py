"""The calendar: pours, cures and markets over how full the racks are."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.runs import STANDINGS
from api.views import WorkshopView
from curehouse.flows.calendar import WEEKS, CalendarAhead, calendar_ahead
from curehouse.flows.place_notices import cramped_words
from curehouse.workshops.roles import Right


class CalendarRunOut(serializers.Serializer):
    """A planned run."""

    run = serializers.IntegerField()
    formula_name = serializers.CharField()
    pour_on = serializers.DateField()
    standing = serializers.ChoiceField(choices=STANDINGS)
    no_place = serializers.CharField(help_text="Which of its bars have no place, and why; empty: all have.")


class CalendarCureOut(serializers.Serializer):
    """A cure that goes on; both days are null where nothing tells, or it is found dry enough."""

    batch = serializers.IntegerField()
    bars = serializers.IntegerField()
    is_dry = serializers.BooleanField(help_text="Found dry enough by its weighings.")
    is_stopped = serializers.BooleanField(help_text="Its bars go to nobody as it stands.")
    first_on = serializers.DateField(allow_null=True, help_text="By then 1 of 10 such batches is dry enough.")
    last_on = serializers.DateField(allow_null=True, help_text="By then 9 of 10 are.")


class CalendarMarketOut(serializers.Serializer):
    """A market, with the bars likely dry enough by then."""

    market = serializers.IntegerField()
    name = serializers.CharField()
    held_on = serializers.DateField()
    bars = serializers.IntegerField(help_text="Of batches that cure, without sample bars; each counts for one market.")
    planned_bars = serializers.IntegerField(help_text="Of runs that are planned.")
    earlier_bars = serializers.IntegerField(help_text="Counted for earlier markets: there if none of them is sold.")


class CalendarLoadOut(serializers.Serializer):
    """Bars that stand or are kept on a day."""

    day = serializers.DateField()
    bars = serializers.IntegerField()


class CalendarOut(serializers.Serializer):
    """What is to come within a quarter of a year."""

    room = serializers.IntegerField(help_text="So many bars the racks hold.")
    load = CalendarLoadOut(many=True)
    runs = CalendarRunOut(many=True)
    cures = CalendarCureOut(many=True)
    markets = CalendarMarketOut(many=True)


def _told(found: CalendarAhead) -> dict[str, Any]:
    first, core = found.today.toordinal(), found.shelf.shelf()
    load = core.load(first, 7 * WEEKS).sum(axis=0)
    lacking = {pk: " ".join(cramped_words(one, today=found.today)) for pk, one in found.cramped.items()}
    return {
        "room": sum(core.capacities),
        "load": [{"day": found.today.fromordinal(first + ahead), "bars": int(bars)} for ahead, bars in enumerate(load)],
        "runs": [
            {
                "run": run.pk,
                "formula_name": run.formula.name,
                "pour_on": run.pour_on,
                "standing": found.shares.standing(run),
                "no_place": lacking.get(run.pk, ""),
            }
            for run in found.runs
        ],
        "cures": [
            {
                "batch": one.cure.batch_id,
                "bars": one.cure.batch.bars_left,
                "is_dry": one.is_dry,
                "is_stopped": one.is_stopped,
                "first_on": one.first_on,
                "last_on": one.last_on,
            }
            for one in found.cures
        ],
        "markets": [
            {
                "market": one.market.pk,
                "name": one.market.name,
                "held_on": one.market.held_on,
                "bars": one.bars,
                "planned_bars": one.planned_bars,
                "earlier_bars": one.earlier_bars,
            }
            for one in found.markets
        ],
    }


class CalendarView(WorkshopView):
    """What is to come."""

    reads = Right.SEE
    serializer_class = CalendarOut
    pagination_class = None

    @extend_schema(responses={200: CalendarOut})
    def get(self, request: Request) -> Response:
        """Say what is to come within a quarter of a year: pours, cures, markets, and how full the racks are."""
        return Response(CalendarOut(_told(calendar_ahead(workshop=self.workshop, at=self.at))).data)
