"""A run that may be planned, looked at whole: storeroom, racks, days and cost."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import DayField
from api.pour_ahead import ReadyOut, ready_told
from api.run_checks import RunCheckOut, check_told
from api.run_places import PlacesOut, PlacesQuery, places_told
from api.views import Detail
from curehouse.flows.plan_ahead import PlanAhead, plan_ahead
from curehouse.flows.run_costs import RunCost
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.workshops.roles import Right


class PlanQuery(PlacesQuery):
    """How much, for when, how many bars, and by which day they are wanted."""

    wanted_on = DayField(required=False, default=None, allow_null=True)


class CostLineOut(serializers.Serializer):
    """Grams of a material, from lots and from what is on its way."""

    name = serializers.CharField()
    amount_g = serializers.DecimalField(max_digits=13, decimal_places=3)
    cost = serializers.DecimalField(max_digits=None, decimal_places=None, allow_null=True, help_text="null: nobody knows.")


class ShortCostOut(serializers.Serializer):
    """Grams of a material that no lot or order gives."""

    name = serializers.CharField()
    amount_g = serializers.DecimalField(max_digits=13, decimal_places=3)


class RunCostOut(serializers.Serializer):
    """What is known of the cost, in the workshop's currency: each lot by its own cost, an order by its price."""

    total = serializers.DecimalField(max_digits=None, decimal_places=2, allow_null=True)
    a_bar = serializers.DecimalField(max_digits=None, decimal_places=2, allow_null=True)
    lines = CostLineOut(many=True)
    unknown = serializers.ListField(child=serializers.CharField(), help_text="What goes in and is not in it.")
    short = ShortCostOut(many=True, help_text="What is short, and not in it either.")


class PlanOut(serializers.Serializer):
    """What a run would meet on its day; of what cannot be told there is null and, in words, why."""

    check = RunCheckOut()
    ready = ReadyOut(allow_null=True)
    why_not_ready = serializers.CharField(help_text="Why ready is null.")
    places = PlacesOut(allow_null=True)
    why_no_places = serializers.CharField(help_text="Why places is null.")
    cost = RunCostOut(allow_null=True, help_text="null: whoever asks sees no costs.")
    first_on = serializers.DateField(
        allow_null=True, help_text="The first day on which all has safely come and all bars find a place, within four months."
    )
    first_if_ordered_on = serializers.DateField(allow_null=True, help_text="The same with an order today of what is short.")


def _cost(cost: RunCost) -> dict[str, Any]:
    return {
        "total": cost.total,
        "a_bar": cost.a_bar,
        "lines": [{"name": one.name, "amount_g": one.amount_g, "cost": one.cost} for one in cost.lines],
        "unknown": cost.unknown,
        "short": [{"name": name, "amount_g": amount_g} for name, amount_g in cost.short_g],
    }


def _told(found: PlanAhead, asked: dict[str, Any], *, sees_costs: bool) -> dict[str, Any]:
    days = {"pour_on": asked["pour_on"], "wanted_on": asked["wanted_on"]}
    return {
        "check": check_told(found.held),
        "ready": None if found.ahead is None else ready_told(found.ahead, **days),
        "why_not_ready": found.why_no_days,
        "places": None if found.places is None else places_told(found.places),
        "why_no_places": found.why_no_places,
        "cost": _cost(found.cost) if sees_costs else None,
        "first_on": found.first_on,
        "first_if_ordered_on": found.first_if_ordered_on,
    }


class VersionPlan(Detail):
    """What a run of a version would meet on its day."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = PlanOut

    def rows(self) -> QuerySet[FormulaVersion]:
        """Return the versions."""
        return FormulaVersion.objects.within(self.workshop)

    @extend_schema(parameters=[PlanQuery], responses={200: PlanOut})
    def get(self, request: Request, pk: int) -> Response:
        """Look at a run from every side: storeroom, racks, days and cost; nothing is kept."""
        version = version_here(self.workshop, pk)
        asked: dict[str, Any] = PlanQuery().run_validation(request.query_params.dict())
        found = plan_ahead(version=version, at=self.at, **asked)
        return Response(PlanOut(_told(found, asked, sees_costs=Right.SEE_COSTS in request.rights)).data)
