"""Bars that are to be turned, and that were."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import KeysField, MomentField
from api.views import Body, WorkshopView
from curehouse.curing.models import Turning
from curehouse.curing.turning import to_turn
from curehouse.flows.turn import turn_batches
from curehouse.making.models import Batch
from curehouse.workshops.roles import Right


class TurnStandsOut(serializers.Serializer):
    """Bars at a place."""

    position = serializers.IntegerField(source="position_id")
    name = serializers.CharField(source="position.__str__")
    bars = serializers.IntegerField()


class ToTurnOut(serializers.Serializer):
    """A batch whose bars are to be turned."""

    batch = serializers.IntegerField(source="batch.pk")
    name = serializers.CharField(source="batch.__str__")
    due_on = serializers.DateField()
    last_at = serializers.DateTimeField(allow_null=True, help_text="When all its bars were turned last; null: not yet.")
    stands = TurnStandsOut(many=True, help_text="Where they stand; those without a place are not in it.")


class TurningDueOut(serializers.Serializer):
    """What is to be turned today, as one walks past it; weighing is no turning."""

    every_days = serializers.IntegerField(allow_null=True, help_text="null: nobody is reminded.")
    for_days = serializers.IntegerField()
    due = ToTurnOut(many=True)


class TurningOut(serializers.ModelSerializer):
    """All bars of a batch were turned."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Turning
        fields = read_only_fields = ["id", "batch", "turned_at", "signed_by", "written_at"]


class TurningIn(Body):
    """Batches whose bars were turned, all of them."""

    batches = KeysField()
    turned_at = MomentField()


class ToBeTurned(WorkshopView):
    """Bars that are to be turned."""

    reads = Right.SEE
    writes = Right.POUR
    model = Turning
    serializer_class = TurningOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: TurningDueOut})
    def get(self, request: Request) -> Response:
        """Show the batches whose bars are to be turned."""
        workshop = self.workshop
        shown: dict[str, Any] = {
            "every_days": workshop.turn_every_days,
            "for_days": workshop.turn_for_days,
            "due": to_turn(workshop=workshop, at=self.at),
        }
        return Response(TurningDueOut(shown).data)

    @extend_schema(request=TurningIn, responses={201: TurningOut(many=True)})
    def post(self, request: Request) -> Response:
        """Note that the bars of some batches were turned; of a batch once a day."""
        sent = self.body(TurningIn)
        rows = turn_batches(actor=self.actor, batch_ids=sent["batches"], turned_at=sent["turned_at"], at=self.at)
        names = Batch.objects.within(self.workshop).filter(pk__in=sent["batches"]).select_related("formula").order_by("number")
        self.tell(", ".join(str(batch) for batch in names))
        return Response(self.get_serializer(rows, many=True).data, status=status.HTTP_201_CREATED)
