"""What will be here of a material on each day to come; as the material's page has it."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.materials import materials_shown
from api.views import Detail
from curehouse.flows.stock_ahead import Ahead, ArrivalEvent, Event, ExpiryEvent, RunEvent, stock_ahead
from curehouse.workshops.roles import Right
from inventory.models import Material

_AMOUNT = "Grams or pieces."


class CourseOut(serializers.Serializer):
    """What one way it may go comes to; days are null where that does not happen within the days shown."""

    short_on = serializers.DateField(allow_null=True, help_text="The first day on which something is wanted and not there.")
    lacking = serializers.FloatField(help_text="What lacks in all; grams or pieces.")
    used_up_on = serializers.DateField(allow_null=True, help_text="The first day at whose end nothing is left.")
    order_by = serializers.DateField(
        allow_null=True, help_text="To be safely here when it is short; null too where nobody knows how long an order takes."
    )


class DayAheadOut(serializers.Serializer):
    """A day, in grams or pieces: left = left the day before (at first: usable) + came - expired - into_runs - unplanned."""

    day = serializers.DateField()
    left = serializers.FloatField(help_text="Likely usable at the end of the day.")
    low = serializers.FloatField(help_text="At least: with more use besides than 19 times of 20, orders on their safe day.")
    high = serializers.FloatField(help_text="At most: with less use besides than 19 times of 20, orders on their early day.")
    planned_left = serializers.FloatField(help_text="By planned runs alone.")
    came = serializers.FloatField()
    expired = serializers.FloatField(help_text="Of lots that were good until the day before.")
    into_runs = serializers.FloatField()
    unplanned = serializers.FloatField(help_text="What is usually used beside planned runs.")
    lacking = serializers.FloatField(help_text="Wanted on the day, and not there.")
    if_sent = serializers.FloatField(help_text="Would come by orders that are not sent, if they are in time; counted nowhere.")


class AheadEventOut(serializers.Serializer):
    """What makes it go down or up: a run takes of it, an order comes, or a lot (or what an order brings) expires."""

    kind = serializers.ChoiceField(choices=["run", "arrival", "expiry"])
    day = serializers.DateField()
    amount = serializers.FloatField(help_text="Grams or pieces: what a run needs, an order brings, or likely expires.")
    run = serializers.IntegerField(allow_null=True)
    order = serializers.IntegerField(allow_null=True)
    lot = serializers.IntegerField(allow_null=True)
    name = serializers.CharField()
    short = serializers.FloatField(
        allow_null=True, help_text="Of a run: what lacks by plan alone, as orders likely come; as its check has it."
    )
    short_safe = serializers.FloatField(allow_null=True, help_text="The same as orders safely come.")
    lacking = serializers.FloatField(allow_null=True, help_text="Of a run: what lacks with usual use besides.")
    made_up = serializers.FloatField(allow_null=True, help_text="Of a run: what is made up from parts, of what is made here.")
    early_on = serializers.DateField(allow_null=True, help_text="Of an order.")
    safe_on = serializers.DateField(allow_null=True, help_text="Of an order.")
    most = serializers.FloatField(allow_null=True, help_text="Of what expires: how much if little is used.")


class UseAheadOut(serializers.Serializer):
    """What is used beside planned runs within the next 28 days, and what that is learnt from."""

    uses = serializers.IntegerField()
    known_days = serializers.IntegerField()
    little = serializers.FloatField(help_text="Passed 95 times of 100; grams or pieces.")
    usual = serializers.FloatField(help_text="Passed as often as not.")
    much = serializers.FloatField(help_text="Passed 5 times of 100.")
    planned_to = serializers.DateField(
        allow_null=True, help_text="Up to this day as much is planned as is usual: hardly any other use is expected until then."
    )


class WaitingOut(serializers.Serializer):
    """A lot in quarantine: not counted until a person releases it."""

    lot = serializers.IntegerField(source="pk")
    lot_name = serializers.CharField(source="__str__")
    amount = serializers.DecimalField(source="on_hand", max_digits=13, decimal_places=3, help_text=_AMOUNT)
    best_before = serializers.DateField(allow_null=True)


class DaylessAheadOut(serializers.Serializer):
    """What is on its way and not counted, for nobody knows when it comes."""

    order = serializers.IntegerField(source="line.order_id")
    amount = serializers.DecimalField(max_digits=15, decimal_places=3, help_text=_AMOUNT)


class DraftAheadOut(serializers.Serializer):
    """What an order that is not sent would bring if it were; it is not counted."""

    order = serializers.IntegerField(source="order.pk")
    order_name = serializers.CharField(source="order.__str__")
    packs = serializers.IntegerField()
    amount = serializers.FloatField(help_text=_AMOUNT)
    send_by = serializers.DateField()
    day = serializers.DateField(allow_null=True, help_text="When it would likely be here then; null where nobody knows.")
    is_written = serializers.BooleanField(help_text="false: the house would order it, and the order does not say so.")


class AheadOut(serializers.Serializer):
    """What will be here of a material; ``usable`` is released and not expired now."""

    material = serializers.IntegerField(source="material.pk")
    name = serializers.CharField(source="material.name")
    measure = serializers.ChoiceField(source="material.measure", choices=Material.Measure.choices)
    usable = serializers.FloatField(help_text=_AMOUNT)
    planned = CourseOut(help_text="By planned runs alone, orders on their likely day.")
    likely = CourseOut(help_text="With what is usually used besides.")
    lean = CourseOut(help_text="With more use besides than 19 times of 20, orders on their safe day.")
    use = UseAheadOut(allow_null=True, help_text="null: none of it was used so far, so only planned runs are counted.")
    events = AheadEventOut(many=True)
    waiting = WaitingOut(many=True)
    dayless = DaylessAheadOut(many=True)
    drafts = DraftAheadOut(many=True)
    days = DayAheadOut(many=True)


class MaterialAhead(Detail):
    """What will be here of a material."""

    reads = Right.SEE
    model = Material
    serializer_class = AheadOut
    rows = materials_shown

    @extend_schema(responses={200: AheadOut})
    def get(self, request: Request, pk: int) -> Response:
        """Look ahead for ninety days, or to the furthest planned run or order, counted as runs are checked."""
        material = self.here(materials_shown(self).select_related("workshop"), pk, what="material")
        return Response(AheadOut(_shown(stock_ahead(material=material, at=self.at))).data)


def _shown(ahead: Ahead) -> dict[str, Any]:
    names = ("material", "usable", "planned", "likely", "lean", "use", "waiting", "dayless", "drafts", "days")
    return {name: getattr(ahead, name) for name in names} | {"events": [_event(one) for one in ahead.events]}


def _event(one: Event) -> dict[str, Any]:
    found = dict.fromkeys(AheadEventOut().fields)
    found["day"] = one.day
    if isinstance(one, RunEvent):
        lacks = {"short": one.short, "short_safe": one.short_safe, "lacking": one.lacking, "made_up": one.made_up}
        return found | lacks | {"kind": "run", "amount": one.needed, "run": one.run.pk, "name": str(one.run)}
    if isinstance(one, ArrivalEvent):
        order = one.arrival.line.order
        ends = {"early_on": one.early, "safe_on": one.safe}
        return found | ends | {"kind": "arrival", "amount": one.amount, "order": order.pk, "name": str(order)}
    return found | _expiry(one)


def _expiry(one: ExpiryEvent) -> dict[str, Any]:
    shown = {"kind": "expiry", "amount": one.amount, "most": one.most}
    if one.lot is not None:
        return shown | {"lot": one.lot.pk, "name": str(one.lot)}
    return shown | {"order": one.arrival.line.order_id, "name": str(one.arrival.line)}
