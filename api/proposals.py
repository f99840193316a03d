"""What the house would order: read with its figures, asked for anew, put off."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import DayField, TextField
from api.views import Body, WorkshopView
from curehouse.core.stock.reorder.drafted import Because
from curehouse.flows.propose import propose_now, want_again
from curehouse.flows.take_off import put_off
from curehouse.workshops.roles import Right
from inventory.models import Material, Proposal, PutOff


class PlannedUseOut(serializers.Serializer):
    """What a planned run takes."""

    run = serializers.IntegerField()
    day = serializers.IntegerField(help_text="In so many days from ``day`` of the proposal.")
    amount = serializers.FloatField(help_text="Grams or pieces.")


class LeadFromOut(serializers.Serializer):
    """What the days of a delivery are learnt from."""

    seen = serializers.IntegerField(help_text="Deliveries of the material from its supplier.")
    others = serializers.IntegerField(help_text="Deliveries of anything else of theirs.")
    usual_days = serializers.FloatField(allow_null=True, help_text="Where there is neither, so many days are reckoned with.")
    is_assumed = serializers.BooleanField(help_text="Nobody said these days: the house assumes them.")


class WhyOut(serializers.Serializer):
    """The figures behind a line; amounts are grams or pieces, chances between 0 and 1."""

    days = serializers.IntegerField(help_text="Until what is ordered at the next look has come with a chance of 90 %.")
    planned = PlannedUseOut(many=True)
    unplanned_half = serializers.FloatField(help_text="What nobody planned takes over these days: as often less as more.")
    unplanned_most = serializers.FloatField(help_text="The same, not passed with a chance of 90 %.")
    here = serializers.FloatField(help_text="Here or on its way, and good until it is used.")
    lead_half = serializers.IntegerField(help_text="Days within which half of its deliveries come.")
    lead_most = serializers.IntegerField(help_text="Days within which 9 of 10 come.")
    risk = serializers.FloatField(help_text="The chance that it is not enough if nothing is ordered.")
    risk_after = serializers.FloatField(help_text="The same if this is ordered.")
    risk_accepted = serializers.FloatField(help_text="What is worth living with, by what its absence costs.")
    lasts_days = serializers.FloatField(help_text="How long it lasts then, at the mean use.")
    expires = serializers.FloatField(help_text="What is expected to expire of these packs.")
    next_expires = serializers.FloatField(help_text="The share of one pack more that would expire.")
    last_day = serializers.IntegerField(help_text="In so many days it is to be ordered at the latest.")
    lead_from = LeadFromOut(required=False, help_text="Missing where it was worked out by an older version.")


class FreightOut(serializers.Serializer):
    """What a line does for the freight; without sums to whoever sees no costs."""

    packs = serializers.IntegerField(help_text="Packs of the line that are ordered only so that no freight is asked.")
    costs = serializers.DecimalField(12, 2, allow_null=True, help_text="What freight costs where it is asked.")
    free_from = serializers.DecimalField(12, 2, allow_null=True, help_text="From goods of so much on it is not; null: always.")
    is_free = serializers.BooleanField(
        allow_null=True,
        help_text="These goods come without; null: not known since something came off or costs otherwise.",
    )

    def to_representation(self, instance: dict[str, Any]) -> dict[str, Any]:
        """Return what is shown; costs are for whoever may know them."""
        shown = super().to_representation(instance)
        sees_costs = Right.SEE_COSTS in self.context["request"].rights
        return shown if sees_costs else {**shown, "costs": None, "free_from": None}


class ProposedLineOut(serializers.Serializer):
    """So many packs of an offer, and why."""

    material = serializers.IntegerField()
    offer = serializers.IntegerField()
    packs = serializers.IntegerField()
    because = serializers.ChoiceField(choices=[(one.value, one.value) for one in Because])
    freight = FreightOut(
        required=False, allow_null=True, help_text="Null: none is ever asked. Missing where an older version worked it out."
    )
    why = WhyOut()


class ProposedOrderOut(serializers.ModelSerializer):
    """What the house would order with an order that is written and not sent, as of a day."""

    order_name = serializers.CharField(source="order.__str__", read_only=True)
    supplier = serializers.IntegerField(source="order.supplier_id", read_only=True)
    lines = ProposedLineOut(many=True, read_only=True)

    class Meta:
        model = Proposal
        fields = read_only_fields = ["id", "order", "order_name", "supplier", "day", "decide_by", "lines", "at"]


class ToOrderOut(serializers.ModelSerializer):
    """An order on which a material waits for a decision."""

    order_name = serializers.CharField(source="order.__str__", read_only=True)

    class Meta:
        model = Proposal
        fields = read_only_fields = ["order", "order_name", "day", "decide_by"]


class PutOffUntilOut(serializers.Serializer):
    """Until when a material is not proposed, and why."""

    until = serializers.DateField(help_text="From this day on it is proposed again where it is needed.")
    why = serializers.CharField()
    order = serializers.IntegerField(
        source="order.pk",
        default=None,
        allow_null=True,
        help_text="That was called off with this on it; null: it was put off.",
    )


class Proposals(WorkshopView):
    """What waits for a decision."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Proposal
    serializer_class = ProposedOrderOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: ProposedOrderOut(many=True)})
    def get(self, request: Request) -> Response:
        """Tell what the house would order, what is to be decided first, first; at most one for each supplier."""
        rows = Proposal.objects.within(self.workshop).undecided()
        return Response(ProposedOrderOut(rows, many=True, context=self.get_serializer_context()).data)

    @extend_schema(request=None, responses={200: ProposedOrderOut(many=True)})
    def post(self, request: Request) -> Response:
        """Look now what to order, as each morning does; orders are written and never sent."""
        propose_now(actor=self.actor, at=self.at)
        return self.get(request)


class PutOffIn(Body):
    """Until when a material is not to be ordered, and why."""

    until = DayField(help_text="From this day on it is proposed again.")
    why = TextField(max_length=400)


class PutOffOut(serializers.ModelSerializer):
    """A material that is not ordered before a day."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = PutOff
        fields = read_only_fields = ["id", "material", "day", "until", "why", "at", "signed_by"]


class PutOffMaterial(WorkshopView):
    """Saying that a material is not wanted now."""

    reads = Right.SEE
    writes = Right.MAKE
    model = PutOff
    serializer_class = PutOffOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: PutOffOut(many=True)})
    def get(self, request: Request, pk: int) -> Response:
        """Tell how often and why a material was put off, the last first."""
        material = self.here(Material.objects.within(self.workshop), pk, what="material")
        return Response(
            PutOffOut(PutOff.objects.within(self.workshop).filter(material=material).newest_first(), many=True).data
        )

    @extend_schema(request=PutOffIn, responses={201: PutOffOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a material off; it comes off the order that the house wrote."""
        material = self.here(Material.objects.within(self.workshop), pk, what="material")
        row = put_off(actor=self.actor, material=material, at=self.at, **self.body(PutOffIn))
        return Response(PutOffOut(row).data, status=201)


class WantMaterial(WorkshopView):
    """Saying that a material is wanted again that was put off."""

    reads = Right.SEE
    writes = Right.MAKE
    model = PutOff
    serializer_class = PutOffOut
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={201: PutOffOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a material off no longer, and look at once what to order; 409 where it is not put off."""
        material = self.here(Material.objects.within(self.workshop), pk, what="material")
        row, _found = want_again(actor=self.actor, material=material, at=self.at)
        return Response(PutOffOut(row).data, status=201)
