"""What planning runs earlier would be worth; as the page of the orders has it."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.views import WorkshopView
from curehouse.flows.planning_worth import planning_worth
from curehouse.workshops.roles import Right
from inventory.models import Order


class EarlierOut(serializers.Serializer):
    """What a year comes to if every run is planned so many days earlier."""

    earlier_days = serializers.IntegerField()
    saves = serializers.FloatField(help_text="Money a year, in ``currency``: what lies costs, and what batches that wait cost.")
    less_lying = serializers.FloatField(help_text="So much less money lies in the storeroom; it may be below 0.")
    fewer_late = serializers.FloatField(help_text="So many batches a year fewer wait for a material; it may be below 0.")
    known_now = serializers.FloatField(
        help_text="The share of use that is planned when its material has to be ordered, between 0 and 1."
    )
    known_then = serializers.FloatField(help_text="The same, planned so many days earlier.")


class PlanningWorthOut(serializers.Serializer):
    """What planning earlier is worth, or what is missing to say so."""

    pours = serializers.IntegerField(help_text="Pours of the last year that were entered here.")
    planned = serializers.IntegerField(help_text="Of these, so many were planned before their day.")
    median_days = serializers.FloatField(allow_null=True, help_text="Half of these so many days before it, or earlier.")
    used = serializers.IntegerField(help_text="Materials that were used.")
    materials = serializers.IntegerField(help_text="Of these, those that are sold by somebody, keep, and were used often.")
    currency = serializers.CharField()
    earlier = EarlierOut(many=True, help_text="Empty where something is missing.")
    missing = serializers.ListField(child=serializers.CharField(), help_text="What it takes and is not there, in words.")


class PlanningEarlier(WorkshopView):
    """What planning earlier is worth."""

    reads = Right.SEE_COSTS
    model = Order
    serializer_class = PlanningWorthOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: PlanningWorthOut})
    def get(self, request: Request) -> Response:
        """Tell what it would save a year to plan every run one, two or three weeks earlier, by this workshop's own past."""
        found = planning_worth(workshop=self.workshop, at=self.at)
        earlier: list[dict[str, Any]] = [
            {
                "earlier_days": one.earlier_days,
                "saves": round(one.a_year, 2),
                "less_lying": round(one.less_lying, 2),
                "fewer_late": round(one.fewer_late, 3),
                "known_now": round(one.known_now, 3),
                "known_then": round(one.known_then, 3),
            }
            for one in found.worths
        ]
        told = {
            "pours": found.pours,
            "planned": found.planned,
            "median_days": found.median_days,
            "used": found.used,
            "materials": found.materials,
            "currency": self.workshop.currency,
            "earlier": earlier,
            "missing": list(found.missing),
        }
        return Response(PlanningWorthOut(told).data)
