"""The ledger of the storeroom: what came to a lot, left it, was counted or taken back."""

from typing import Any

from django.db.models import Q, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import AmountField, CountField, FlagField, MomentField, TextField
from api.filtering import ChoiceFilter, FlagFilter, KeyFilter, MomentFilter
from api.lots import OfLot, the_lot
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.flows.stock import count, give_back, receive_more, reverse, take_back_count, write_off
from curehouse.workshops.roles import Right
from inventory.models import Count, Material, Movement
from inventory.queries.movements import MovementQuerySet

API = Movement.Source.API


class MovementOut(serializers.ModelSerializer):
    """Grams or pieces that came to a lot (above zero) or left it (below)."""

    lot_name = serializers.CharField(source="lot.__str__", read_only=True)
    material = serializers.IntegerField(source="lot.material_id", read_only=True)
    measure = serializers.ChoiceField(source="lot.material.measure", choices=Material.Measure.choices, read_only=True)
    corrected_by = serializers.IntegerField(
        source="corrected_by.pk", read_only=True, allow_null=True, help_text="The reversal that takes it back."
    )
    batch = serializers.IntegerField(
        source="batch_use.batch_id", read_only=True, allow_null=True, help_text="The batch that used it."
    )
    is_estimate = serializers.BooleanField(read_only=True, help_text="Whether it follows from what was judged by eye.")
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Movement
        fields = read_only_fields = [
            "id",
            "lot",
            "lot_name",
            "material",
            "measure",
            "kind",
            "amount",
            "is_estimate",
            "moment",
            "reason",
            "batch",
            "corrects",
            "corrected_by",
            "source",
            "signed_by",
            "written_at",
        ]


class CountOut(serializers.ModelSerializer):
    """What was found of a lot against what was booked; ``movement`` corrects the difference.

    ``by_list`` is what a stock list says of a lot it brings. ``restates`` leads to the count that is held
    against the book anew: something dated before it was entered after it. ``takes_back`` leads to a count
    without a difference that never happened; one with a difference is taken back by its ``movement``.
    """

    is_taken_back = serializers.BooleanField(read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Count
        fields = read_only_fields = [
            "id",
            "lot",
            "counted",
            "expected",
            "is_estimate",
            "moment",
            "reason",
            "store_count",
            "movement",
            "for_use",
            "by_list",
            "restates",
            "takes_back",
            "is_taken_back",
            "signed_by",
            "written_at",
        ]


class ReceiptIn(Body):
    """More of a lot that came in."""

    amount = AmountField()
    moment = MomentField()
    reason = TextField(max_length=400, required=False, allow_blank=True, default="")


class LeavingIn(Body):
    """What left a lot, and why."""

    amount = AmountField()
    moment = MomentField()
    reason = TextField(max_length=400)


class CountIn(Body):
    """What was found of a lot; a difference wants a reason."""

    counted = AmountField(
        required=False, allow_null=True, default=None, help_text="Null only of an estimate: by eye it may be what is booked."
    )
    moment = MomentField()
    reason = TextField(max_length=400, required=False, allow_blank=True, default="")
    is_estimate = FlagField(default=False, help_text="Judged by eye, not weighed or counted.")
    seen = CountField(
        required=False,
        allow_null=True,
        default=None,
        help_text="The newest count of the lot that whoever counted knew of (0: none). Where somebody counted it since and "
        "found another amount, nothing is booked (counted_meanwhile).",
    )
    on_walk = FlagField(
        default=False, help_text="true: on the walk past all lots; it begins a store count where none is under way."
    )


class ReversalIn(Body):
    """Why a movement is taken back."""

    reason = TextField(max_length=400)


class MovementFilters(filters.FilterSet):
    """Which movements."""

    lot = KeyFilter(field_name="lot")
    material = KeyFilter(field_name="lot__material")
    batch = KeyFilter(field_name="batch_use__batch", help_text="What this batch used.")
    kind = ChoiceFilter(choices=Movement.Kind.choices)
    moment_after = MomentFilter(field_name="moment", lookup_expr="gte")
    moment_before = MomentFilter(field_name="moment", lookup_expr="lt")
    in_force = FlagFilter(method="not_taken_back", help_text="true: without what was taken back, and the reversals.")

    def not_taken_back(self, rows: MovementQuerySet, name: str, value: bool) -> MovementQuerySet:  # noqa: FBT001
        """Return the movements in force, or the others."""
        return rows.in_force() if value else rows.filter(Q(kind=Movement.Kind.REVERSAL) | Q(corrected_by__isnull=False))


def movements_shown(view: WorkshopView) -> QuerySet[Movement]:
    """Return the movements with all that is shown of them."""
    beside = ("lot__material", "corrected_by", "batch_use", "by_user", "by_device")
    return Movement.objects.within(view.workshop).select_related(*beside).with_their_counts()


class Movements(Listing):
    """The workshop's movements."""

    reads = Right.SEE
    model = Movement
    serializer_class = MovementOut
    filterset_class = MovementFilters
    ordering_fields = ("moment", "written_at", "amount", "id")
    ordering = "-moment"
    rows = movements_shown


class OneMovement(Detail):
    """A movement."""

    reads = Right.SEE
    model = Movement
    serializer_class = MovementOut
    rows = movements_shown


class Reversal(Detail):
    """Taking a movement back."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Movement
    serializer_class = MovementOut
    rows = movements_shown
    http_method_names = ("post", "options")
    field_names = {"movement": None}  # noqa: RUF012

    @extend_schema(request=ReversalIn, responses={201: MovementOut})
    def post(self, request: Request, pk: int) -> Response:
        """Take back a movement that never happened, as of its own moment; the answer is the reversal."""
        movement = self.here(Movement.objects.within(self.workshop).select_related("lot"), pk, what="movement")
        row = reverse(actor=self.actor, movement=movement, reason=self.body(ReversalIn)["reason"], at=self.at, source=API)
        return Response(self.shown(row.pk), status=201)


class _OnLot(Detail):
    """What can be booked on a lot besides a use; what is seen of it is the movement."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Movement
    serializer_class = MovementOut
    rows = movements_shown
    http_method_names = ("post", "options")

    def common(self) -> dict[str, Any]:
        """Return what every verb is told."""
        return {"actor": self.actor, "lot": the_lot(self), "at": self.at, "source": API}

    def booked(self, movement: Movement) -> Response:
        """Return what was booked."""
        return Response(self.shown(movement.pk), status=201)


class Receipts(_OnLot):
    """More of a lot."""

    @extend_schema(request=ReceiptIn, responses={201: MovementOut})
    def post(self, request: Request, pk: int) -> Response:
        """Book more of the same lot that came in."""
        common = self.common()
        return self.booked(receive_more(**common, **self.body(ReceiptIn)))


class WriteOffs(_OnLot):
    """What is spilt, spoilt or thrown away."""

    @extend_schema(request=LeavingIn, responses={201: MovementOut})
    def post(self, request: Request, pk: int) -> Response:
        """Book what was spilt, spoilt or thrown away."""
        common = self.common()
        return self.booked(write_off(**common, **self.body(LeavingIn)))


class Returns(_OnLot):
    """What goes back to the supplier."""

    @extend_schema(request=LeavingIn, responses={201: MovementOut})
    def post(self, request: Request, pk: int) -> Response:
        """Book what went back to the supplier."""
        common = self.common()
        return self.booked(give_back(**common, **self.body(LeavingIn)))


class Counts(OfLot):
    """The counts of one lot."""

    reads = Right.SEE
    writes = Right.COUNT
    model = Count
    serializer_class = CountOut
    ordering_fields = ("moment", "id")
    ordering = "-moment"

    def rows(self) -> QuerySet:
        """Return the lot's counts, with what tells whether they were taken back."""
        return super().rows().with_what_took_them_back()

    @extend_schema(request=CountIn, responses={201: CountOut}, filters=False)
    def post(self, request: Request, pk: int) -> Response:
        """Book what was found of the lot: a difference is corrected, and wants a reason."""
        lot = the_lot(self)
        counted = count(actor=self.actor, lot=lot, at=self.at, source=API, **self.body(CountIn))
        return self.written(counted.count)


def counts_shown(view: WorkshopView) -> QuerySet[Count]:
    """Return the counts with all that is shown of them."""
    return Count.objects.within(view.workshop).with_what_took_them_back().select_related("by_user", "by_device")


class CountReversal(Detail):
    """Taking a count back."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Count
    serializer_class = CountOut
    rows = counts_shown
    http_method_names = ("post", "options")
    field_names = {"count": None, "movement": None}  # noqa: RUF012

    @extend_schema(request=ReversalIn, responses={201: CountOut})
    def post(self, request: Request, pk: int) -> Response:
        """Take back a count that never happened, found it a difference or not; the answer is the count."""
        counted = self.here(Count.objects.within(self.workshop).select_related("lot"), pk, what="count")
        take_back_count(
            actor=self.actor, count=counted, reason=self.body(ReversalIn)["reason"], at=self.at, source=API
        )  # fmt: skip
        return Response(self.shown(counted.pk), status=201)
