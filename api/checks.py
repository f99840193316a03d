"""Safety checks of a batch: a person's pass or fail by the workshop's own written limit."""

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import FlagField, MomentField, TextField
from api.views import Body, Listing
from curehouse.flows.check import check
from curehouse.making.models import Batch, SafetyCheck
from curehouse.workshops.roles import Right


class CheckOut(serializers.ModelSerializer):
    """A safety check; the newest one counts."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = SafetyCheck
        fields = read_only_fields = [
            "id",
            "batch",
            "at",
            "method",
            "value",
            "limit",
            "passed",
            "note",
            "signed_by",
            "written_at",
        ]


class CheckIn(Body):
    """What was found, and whether it passes: Curehouse ships no limit and does not decide.

    Good soap is alkaline by nature, so neutral is not the aim. A batch whose last check failed
    goes to nobody.
    """

    method = TextField(max_length=200)
    value = TextField(max_length=200)
    passed = FlagField()
    note = TextField(max_length=400, required=False, allow_blank=True, default="")
    checked_at = MomentField()


class Checks(Listing):
    """The safety checks of one batch."""

    reads = Right.SEE
    writes = Right.POUR
    model = SafetyCheck
    serializer_class = CheckOut
    ordering_fields = ("at", "id")
    ordering = "-at"

    def _batch(self) -> Batch:
        batches = Batch.objects.within(self.workshop).select_related("formula")
        return self.here(batches, self.kwargs["pk"], what="batch")

    def rows(self) -> QuerySet[SafetyCheck]:
        """Return the batch's checks."""
        checks = SafetyCheck.objects.within(self.workshop).filter(batch=self._batch())
        return checks.select_related("by_user", "by_device")

    @extend_schema(request=CheckIn, responses={201: CheckOut})
    def post(self, request: Request, pk: int) -> Response:
        """Record a check; the batch is assessed anew. A device tells of a fail only: a pass is a person's judgement."""
        batch = self._batch()
        row = check(actor=self.actor, batch=batch, at=self.at, **self.body(CheckIn))
        return Response(self.get_serializer(row).data, status=status.HTTP_201_CREATED)
