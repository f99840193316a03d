"""Whether a run of a version can be poured: held against lots, orders and the runs that are planned."""

from datetime import date
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.runs import STANDINGS, NotKeptOut, RunQuery
from api.views import Detail
from curehouse.core.stock.netting import MaterialCheck, Prospect, Supplied
from curehouse.flows.check_run import Held, hold_run
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.workshops.roles import Right


class TakenOut(serializers.Serializer):
    """Grams of one lot, or of what an order brings."""

    lot = serializers.IntegerField(allow_null=True)
    order = serializers.IntegerField(allow_null=True)
    amount_g = serializers.FloatField()


class SuppliedOut(serializers.Serializer):
    """How a material stands on the day, in grams; here and coming, less taken before and kept for later, is free."""

    needed_g = serializers.FloatField()
    here_g = serializers.FloatField()
    coming_g = serializers.FloatField()
    taken_before_g = serializers.FloatField()
    kept_for_later_g = serializers.FloatField()
    free_g = serializers.FloatField()
    short_g = serializers.FloatField()
    made_up_g = serializers.FloatField(help_text="Of what is made from others: what its own lots do not give.")
    takes = TakenOut(many=True)


class InsteadOut(serializers.Serializer):
    """What a run takes nothing of, for one lot stands for all of it; in that are at most ``dissolved_g`` grams of it."""

    material = serializers.IntegerField()
    name = serializers.CharField()
    amount_g = serializers.FloatField()
    dissolved_g = serializers.FloatField()


class MaterialCheckOut(serializers.Serializer):
    """One material: as orders likely come, and as they have safely come.

    What is taken instead of another is taken of one lot, and every figure is of that lot alone, in grams of it.
    """

    material = serializers.IntegerField()
    name = serializers.CharField()
    instead_of = InsteadOut(allow_null=True, help_text="Of lye that was dissolved beforehand: the dry lye it stands for.")
    likely = SuppliedOut()
    safe = SuppliedOut()
    order_by = serializers.DateField(allow_null=True, help_text="null: nothing is short, or nobody knows how long it takes.")
    too_late = serializers.BooleanField()


class ProspectOut(serializers.Serializer):
    """Whether the run can be poured on its day, and the first days on which it can; null: not within four months."""

    possible = serializers.BooleanField()
    first_day = serializers.DateField(allow_null=True)
    first_day_if_ordered_today = serializers.DateField(allow_null=True)


class DaylessOut(serializers.Serializer):
    """What is on its way and not counted on, for nobody knows when it comes."""

    order = serializers.IntegerField()
    material = serializers.IntegerField()
    name = serializers.CharField()
    amount_g = serializers.DecimalField(max_digits=15, decimal_places=3)


class RunCheckOut(serializers.Serializer):
    """A run held against the storeroom, with the runs that are planned protected."""

    standing = serializers.ChoiceField(choices=STANDINGS)
    likely = ProspectOut()
    safe = ProspectOut()
    materials = MaterialCheckOut(many=True)
    not_kept = NotKeptOut(many=True)
    dayless = DaylessOut(many=True)


def _day(ordinal: int | None) -> date | None:
    return None if ordinal is None else date.fromordinal(ordinal)


def _supplied(one: Supplied, held: Held) -> dict[str, Any]:
    names = ("needed_g", "here_g", "coming_g", "taken_before_g", "kept_for_later_g", "free_g", "short_g", "made_up_g")
    takes = [
        {
            "lot": held.lots[taken.supply].pk if taken.supply in held.lots else None,
            "order": held.arrivals[taken.supply].line.order_id if taken.supply in held.arrivals else None,
            "amount_g": taken.amount,
        }
        for taken in one.takes
    ]
    return {**{name: round(getattr(one, name), 3) for name in names}, "takes": takes}


def _instead(one: MaterialCheck, held: Held) -> dict[str, Any] | None:
    if one.instead is None:
        return None
    dissolved_g = sum(taken.amount * float(held.dry_in[taken.supply]) for taken in one.likely.takes)
    material = held.materials[one.instead.material]
    return {
        "material": material.pk,
        "name": material.name,
        "amount_g": round(one.instead.amount_g, 3),
        "dissolved_g": round(dissolved_g, 3),
    }


def _prospect(one: Prospect) -> dict[str, Any]:
    return {
        "possible": one.possible,
        "first_day": _day(one.first_day),
        "first_day_if_ordered_today": _day(one.first_day_if_ordered_today),
    }


def check_told(held: Held) -> dict[str, Any]:
    """Return a run held against the storeroom as it is answered."""
    return {
        "standing": held.standing,
        "likely": _prospect(held.found.likely),
        "safe": _prospect(held.found.safe),
        "materials": [
            {
                "material": held.materials[one.material].pk,
                "name": held.materials[one.material].name,
                "instead_of": _instead(one, held),
                "likely": _supplied(one.likely, held),
                "safe": _supplied(one.safe, held),
                "order_by": _day(one.order_by),
                "too_late": one.too_late,
            }
            for one in held.found.materials
        ],
        "not_kept": [{"name": need.name, "amount_g": need.amount_g} for need in held.not_kept],
        "dayless": [
            {
                "order": one.line.order_id,
                "material": one.line.material_id,
                "name": one.line.material.name,
                "amount_g": one.amount,
            }
            for one in held.dayless
        ],
    }


class VersionRunCheck(Detail):
    """Whether a run of a version can be poured."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = RunCheckOut

    def rows(self) -> QuerySet[FormulaVersion]:
        """Return the versions."""
        return FormulaVersion.objects.within(self.workshop)

    @extend_schema(parameters=[RunQuery], responses={200: RunCheckOut})
    def get(self, request: Request, pk: int) -> Response:
        """Hold a run against lots, orders on their way and the runs that are planned; nothing is kept."""
        version = version_here(self.workshop, pk)
        asked: dict[str, Any] = RunQuery().run_validation(request.query_params.dict())
        return Response(RunCheckOut(check_told(hold_run(version=version, at=self.at, **asked))).data)
