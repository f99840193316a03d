"""Bars that leave the cure."""

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, CountField, MomentField, TextField
from api.views import Body, Listing
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch, TakeOut
from curehouse.making.services import TakeOutEntry
from curehouse.workshops.roles import Right


class TakeOutOut(serializers.ModelSerializer):
    """Bars that were taken out: how many, when, what for."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = TakeOut
        fields = read_only_fields = [
            "id",
            "batch",
            "at",
            "bars",
            "purpose",
            "state_then",
            "forced_reason",
            "signed_by",
            "written_at",
        ]


class TakeOutIn(Body):
    """Bars to be taken out; a reason is needed if the batch is not ready."""

    bars = CountField()
    purpose = ChoiceField(choices=TakeOut.Purpose.choices)
    taken_at = MomentField()
    forced_reason = TextField(max_length=400, required=False, allow_blank=True, default="")


class TakeOuts(Listing):
    """What was taken out of one batch."""

    reads = Right.SEE
    writes = Right.MAKE
    model = TakeOut
    serializer_class = TakeOutOut
    ordering_fields = ("at", "id")
    ordering = "-at"

    def _batch(self) -> Batch:
        batches = Batch.objects.within(self.workshop).select_related("formula")
        return self.here(batches, self.kwargs["pk"], what="batch")

    def rows(self) -> QuerySet[TakeOut]:
        """Return what was taken out of the batch."""
        return TakeOut.objects.within(self.workshop).filter(batch=self._batch()).select_related("by_user", "by_device")

    @extend_schema(request=TakeOutIn, responses={201: TakeOutOut})
    def post(self, request: Request, pk: int) -> Response:
        """Take bars out; their places are free, and with the last of them weighing ends."""
        batch = self._batch()
        row = take_out(actor=self.actor, batch=batch, entry=TakeOutEntry(**self.body(TakeOutIn)), at=self.at)
        return Response(self.get_serializer(row).data, status=status.HTTP_201_CREATED)
