"""What a batch took from the storeroom, and what holds its bars back."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import AmountField, KeyField, MomentField, TextField
from api.filtering import FlagFilter, KeyFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.errors import DomainError, NotHere
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch, BatchHold, BatchUse
from curehouse.making.services import lift_hold
from curehouse.workshops.roles import Right
from inventory.models import Irregular, Lot, Movement

MOST_LINES = 100


class UseOut(serializers.ModelSerializer):
    """What a batch took from one lot, in grams or pieces."""

    lot = serializers.IntegerField(source="movement.lot_id", read_only=True)
    lot_name = serializers.CharField(source="movement.lot.__str__", read_only=True)
    material = serializers.IntegerField(source="movement.lot.material_id", read_only=True)
    amount = serializers.SerializerMethodField()
    used_at = serializers.DateTimeField(source="movement.moment", read_only=True)
    irregular = serializers.ChoiceField(
        choices=Irregular.choices, allow_blank=True, read_only=True, help_text="Why the lot was not in order, if it was not."
    )
    taken_back = serializers.SerializerMethodField()
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = BatchUse
        fields = read_only_fields = [
            "id",
            "batch",
            "movement",
            "lot",
            "lot_name",
            "material",
            "amount",
            "used_at",
            "irregular",
            "reason",
            "taken_back",
            "signed_by",
            "written_at",
        ]

    def get_amount(self, use: BatchUse) -> str:
        """Return the amount, above zero."""
        return f"{-use.movement.amount:.3f}"

    def get_taken_back(self, use: BatchUse) -> bool:
        """Return whether the movement was taken back."""
        return hasattr(use.movement, "corrected_by")


class UseLineIn(Body):
    """What was taken from one lot; a lot that was not in order wants a reason."""

    lot = KeyField()
    amount = AmountField(help_text="Grams or pieces; more than is booked is counted in first.")
    reason = TextField(max_length=400, required=False, allow_blank=True, default="")


class UsesIn(Body):
    """What a batch took."""

    used_at = MomentField()
    lines = UseLineIn(many=True, allow_empty=False, max_length=MOST_LINES)


class UseFilters(filters.FilterSet):
    """Which uses."""

    lot = KeyFilter(field_name="movement__lot")
    in_force = FlagFilter(field_name="movement__corrected_by", lookup_expr="isnull", help_text="true: not taken back.")


def _the_batch(view: WorkshopView) -> Batch:
    return view.here(Batch.objects.within(view.workshop).select_related("formula"), view.kwargs["pk"], what="batch")


def _in_line(error: DomainError) -> DomainError:
    """Return what is wrong with a line under the line's own field."""
    line, field = error.data.get("line"), error.field
    error.field = "used_at" if field == "moment" else field if line is None else f"lines.{line}.{field or 'lot'}"
    return error


class BatchUses(Listing):
    """What one batch took from the storeroom."""

    reads = Right.SEE
    writes = Right.POUR
    model = BatchUse
    serializer_class = UseOut
    filterset_class = UseFilters
    ordering_fields = ("written_at", "id")
    ordering = "-id"

    def rows(self) -> QuerySet[BatchUse]:
        """Return what the batch took."""
        beside = ("movement__lot__material", "movement__corrected_by", "by_user", "by_device")
        return BatchUse.objects.within(self.workshop).filter(batch=_the_batch(self)).select_related(*beside)

    @extend_schema(request=UsesIn, responses={201: UseOut(many=True)}, filters=False)
    def post(self, request: Request, pk: int) -> Response:
        """Book what the batch took, all of it or nothing; a lot that was not in order holds the batch."""
        batch, sent = _the_batch(self), self.body(UsesIn)
        lines = self._lines(sent["lines"])
        try:
            uses = book_use(
                actor=self.actor, batch=batch, lines=lines, used_at=sent["used_at"], at=self.at, source=Movement.Source.API
            )
        except DomainError as error:
            raise _in_line(error) from error
        rows = self.rows().filter(pk__in=[use.pk for use in uses]).order_by("pk")
        return Response(self.get_serializer(rows, many=True).data, status=status.HTTP_201_CREATED)

    def _lines(self, sent: list[dict[str, Any]]) -> list[UseLine]:
        lots = Lot.objects.within(self.workshop).named().in_bulk([one["lot"] for one in sent])
        for number, one in enumerate(sent):
            if one["lot"] not in lots:
                raise NotHere("not_here", "There is no such lot in this workshop.", field=f"lines.{number}.lot")
        return [UseLine(lots[one["lot"]], one["amount"], one["reason"]) for one in sent]


class HoldOut(serializers.ModelSerializer):
    """Why a batch's bars leave only to be destroyed, until a person lifts the hold."""

    lifted_why = serializers.CharField(source="lift.why", read_only=True, allow_null=True)
    lifted_at = serializers.DateTimeField(source="lift.at", read_only=True, allow_null=True)
    lifted_by = serializers.CharField(source="lift.signed_by", read_only=True, allow_null=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = BatchHold
        fields = read_only_fields = [
            "id",
            "batch",
            "use",
            "cause",
            "reason",
            "at",
            "signed_by",
            "lifted_why",
            "lifted_at",
            "lifted_by",
        ]


class LiftIn(Body):
    """Why the bars may leave all the same."""

    why = TextField(max_length=400)


class HoldFilters(filters.FilterSet):
    """Which holds."""

    batch = KeyFilter(field_name="batch")
    standing = FlagFilter(field_name="lift", lookup_expr="isnull", help_text="true: those nobody has lifted.")


def holds_shown(view: WorkshopView) -> QuerySet[BatchHold]:
    """Return the holds with what lifted them."""
    beside = ("lift__by_user", "lift__by_device", "by_user", "by_device")
    return BatchHold.objects.within(view.workshop).select_related(*beside)


class Holds(Listing):
    """What holds batches back, in the whole workshop."""

    reads = Right.SEE
    model = BatchHold
    serializer_class = HoldOut
    filterset_class = HoldFilters
    ordering_fields = ("at", "id")
    ordering = "-at"
    rows = holds_shown


class OneHold(Detail):
    """A hold."""

    reads = Right.SEE
    model = BatchHold
    serializer_class = HoldOut
    rows = holds_shown


class Lift(Detail):
    """Lifting a hold."""

    reads = Right.SEE
    writes = Right.MAKE
    model = BatchHold
    serializer_class = HoldOut
    rows = holds_shown
    http_method_names = ("post", "options")

    @extend_schema(request=LiftIn, responses={201: HoldOut})
    def post(self, request: Request, pk: int) -> Response:
        """Lift a hold: a person's word, so a device is answered 403."""
        hold = self.here(BatchHold.objects.within(self.workshop).select_related("batch"), pk, what="hold")
        lift_hold(actor=self.actor, hold=hold, why=self.body(LiftIn)["why"], at=self.at)
        return Response(self.shown(pk), status=status.HTTP_201_CREATED)
