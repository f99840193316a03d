"""A pour that is still to come: when its bars are dry enough, and when to pour for bars by a day."""

from datetime import date
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import DayField
from api.views import Body, Detail
from curehouse.core.planning.pour_day import SHARES
from curehouse.flows.pour_ahead import PourAhead, pour_ahead
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.workshops.roles import Right


class ReadyQuery(Body):
    """A day to pour on, or one by which the bars are wanted, or both."""

    pour_on = DayField(required=False, default=None, allow_null=True)
    wanted_on = DayField(required=False, default=None, allow_null=True)


class DryOnOut(serializers.Serializer):
    """By which day a share of such batches is dry enough; null: not as far as it was looked."""

    share = serializers.FloatField()
    day = serializers.DateField(allow_null=True)


class PourByOut(serializers.Serializer):
    """The last day on which to pour for a share of such batches to be dry enough; null: no day is."""

    share = serializers.FloatField()
    pour_on = serializers.DateField(allow_null=True)


class OwnCuresOut(serializers.Serializer):
    """How many days from the cut the formula's cures took that had their time, and what they say of the next by themselves."""

    took_days = serializers.ListField(child=serializers.IntegerField())
    never = serializers.IntegerField(help_text="So many of them nobody found dry enough.")
    next_within_days = serializers.FloatField(allow_null=True, help_text="With a chance of 95 of 100; null where too few tell.")


class ReadyOut(serializers.Serializer):
    """What is expected of a version's batches; dry enough is not ready, for the safety check has to be passed."""

    cut_after_days = serializers.IntegerField(help_text="Whole days from the pour to the cut.")
    water_share = serializers.FloatField(help_text="Water of the fresh bar over its mass.")
    cures = serializers.IntegerField(help_text="So many cures of the workshop taught it; 0: what is usual of such bars.")
    dry_on = DryOnOut(many=True, help_text="Where a day to pour on was said.")
    chance = serializers.FloatField(allow_null=True, help_text="Dry enough by the day, where both days were said.")
    pour_by = PourByOut(many=True, help_text="Where a day was said by which the bars are wanted.")
    own = OwnCuresOut()


def ready_told(found: PourAhead, pour_on: date | None, wanted_on: date | None) -> dict[str, Any]:
    """Return what is expected of a pour as it is answered."""
    latest = () if wanted_on is None else found.latest(wanted_on)
    both = None if pour_on is None or wanted_on is None else found.chance(pour_on=pour_on, wanted_on=wanted_on)
    own = found.own
    return {
        "cut_after_days": found.cut_after_days,
        "water_share": found.water_share,
        "cures": found.cures,
        "dry_on": []
        if pour_on is None
        else [{"share": share, "day": found.dry_on(share, pour_on=pour_on)} for share in (0.1, 0.5, 0.8, 0.9, 0.95)],
        "chance": both,
        "pour_by": [
            {"share": one.share, "pour_on": None if one.pour_on is None else date.fromordinal(one.pour_on)} for one in latest
        ],
        "own": {
            "took_days": own.took,
            "never": own.never,
            "next_within_days": None if own.next is None else own.next.days_for(SHARES[-1]),
        },
    }


class VersionReady(Detail):
    """When bars of a pour that is still to come are dry enough."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = ReadyOut

    def rows(self) -> QuerySet[FormulaVersion]:
        """Return the versions."""
        return FormulaVersion.objects.within(self.workshop)

    @extend_schema(parameters=[ReadyQuery], responses={200: ReadyOut})
    def get(self, request: Request, pk: int) -> Response:
        """Say when bars poured on a day are dry enough, and when to pour for bars by a day; nothing is kept."""
        version = version_here(self.workshop, pk)
        asked: dict[str, Any] = ReadyQuery().run_validation(request.query_params.dict())
        found = pour_ahead(version=version, at=self.at, **asked)
        return Response(ReadyOut(ready_told(found, **asked)).data)
