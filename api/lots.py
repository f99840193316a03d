"""Lots: received, ruled about, corrected."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import AmountField, ChoiceField, DayField, FigureField, FlagField, KeyField, LyeConfirmedField, TextField
from api.filtering import ChoiceFilter, DayFilter, FlagFilter, KeyFilter, TextFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.flows.stock import correct_lot, receive, record_value, rule_lot
from curehouse.workshops.roles import Right
from inventory.models import Lot, LotCorrection, LotRuling, LotValue, Material, Movement, Supplier
from inventory.services.lots import LotPapers, ReceiptEntry


class LotOut(serializers.ModelSerializer):
    """What came in of one material at one time, under the house's own number."""

    name = serializers.CharField(source="__str__", read_only=True)
    material_name = serializers.CharField(source="material.name", read_only=True)
    measure = serializers.ChoiceField(source="material.measure", choices=Material.Measure.choices, read_only=True)
    supplier_name = serializers.CharField(source="supplier.name", read_only=True, allow_null=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Lot
        fields = read_only_fields = [
            "id",
            "number",
            "name",
            "material",
            "material_name",
            "measure",
            "supplier",
            "supplier_name",
            "supplier_lot",
            "received_on",
            "best_before",
            "unit_cost",
            "standing",
            "on_hand",
            "is_estimated",
            "signed_by",
            "written_at",
        ]

    def to_representation(self, instance: Lot) -> dict[str, Any]:
        """Return what is shown; the cost is null to whoever may not know it."""
        shown = super().to_representation(instance)
        return shown if Right.SEE_COSTS in self.context["request"].rights else {**shown, "unit_cost": None}


class LotIn(Body):
    """A lot that came in: ``amount`` in grams or pieces, as its material is measured."""

    material = KeyField()
    amount = AmountField()
    received_on = DayField()
    supplier = KeyField(required=False, allow_null=True)
    supplier_lot = TextField(max_length=200, required=False, allow_blank=True)
    best_before = DayField(required=False, allow_null=True, help_text="The last day it may be used.")
    unit_cost = FigureField(
        max_digits=14, decimal_places=6, required=False, allow_null=True,
        help_text="Of a gram or a piece, in the workshop's currency.",
    )  # fmt: skip
    standing = ChoiceField(choices=Lot.Standing.choices, default=Lot.Standing.QUARANTINE)
    why = TextField(max_length=400, required=False, allow_blank=True, help_text="Why it is released or rejected at once.")


class LotFilters(filters.FilterSet):
    """Which lots."""

    material = KeyFilter(field_name="material")
    kind = ChoiceFilter(field_name="material__kind", choices=Material.Kind.choices)
    supplier = KeyFilter(field_name="supplier")
    supplier_lot = TextFilter(field_name="supplier_lot", lookup_expr="iexact")
    standing = ChoiceFilter(choices=Lot.Standing.choices)
    in_stock = FlagFilter(method="that_hold_something", help_text="true: those that hold something.")
    estimated = FlagFilter(field_name="is_estimated", help_text="true: what they hold was judged by eye.")
    best_before_by = DayFilter(field_name="best_before", lookup_expr="lte", help_text="Best before this day or earlier.")
    received_from = DayFilter(field_name="received_on", lookup_expr="gte")
    received_until = DayFilter(field_name="received_on", lookup_expr="lte")

    def that_hold_something(self, rows: QuerySet[Lot], name: str, value: bool) -> QuerySet[Lot]:  # noqa: FBT001
        """Return the lots that hold something, or those that are used up."""
        return rows.filter(on_hand__gt=0) if value else rows.filter(on_hand=0)


def lots_shown(view: WorkshopView) -> QuerySet[Lot]:
    """Return the lots with all that is shown of them."""
    return Lot.objects.within(view.workshop).named().select_related("by_user", "by_device")


def the_lot(view: WorkshopView) -> Lot:
    """Return the lot whose id is in the address."""
    return view.here(Lot.objects.within(view.workshop).named(), view.kwargs["pk"], what="lot")


class Lots(Listing):
    """The workshop's lots."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Lot
    serializer_class = LotOut
    filterset_class = LotFilters
    ordering_fields = ("number", "received_on", "on_hand", "id")
    ordering = "-number"
    rows = lots_shown

    @extend_schema(request=LotIn, responses={201: LotOut})
    def post(self, request: Request) -> Response:
        """Receive a lot under the next house number; it waits in quarantine unless it is released at once."""
        sent = self.body(LotIn)
        materials, suppliers = Material.objects.within(self.workshop), Supplier.objects.within(self.workshop)
        sent["material"] = self.here(materials, sent["material"], what="material", field="material")
        if sent.get("supplier") is not None:
            sent["supplier"] = self.here(suppliers, sent["supplier"], what="supplier", field="supplier")
        lot = receive(actor=self.actor, entry=ReceiptEntry(**sent), at=self.at, source=Movement.Source.API)
        return self.made(lot.pk)


class OneLot(Detail):
    """A lot."""

    reads = Right.SEE
    model = Lot
    serializer_class = LotOut
    rows = lots_shown


class OfLot(Listing):
    """Rows of one lot, the newest first."""

    reads = Right.SEE
    writes = Right.MAKE
    ordering_fields = ("at", "id")
    ordering = "-at"

    def rows(self) -> QuerySet:
        """Return the lot's rows, with who signed them."""
        return self.model.objects.within(self.workshop).filter(lot=the_lot(self)).select_related("by_user", "by_device")

    def written(self, row: object, *, many: bool = False) -> Response:
        """Return what was written."""
        return Response(self.get_serializer(row, many=many).data, status=status.HTTP_201_CREATED)


class RulingOut(serializers.ModelSerializer):
    """A person's word on a lot; the newest counts."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = LotRuling
        fields = read_only_fields = ["id", "lot", "standing", "why", "at", "signed_by"]


class RulingIn(Body):
    """How a lot stands from now on, and why."""

    standing = ChoiceField(choices=Lot.Standing.choices)
    why = TextField(max_length=400)


class Rulings(OfLot):
    """What was ruled about one lot."""

    model = LotRuling
    serializer_class = RulingOut

    @extend_schema(request=RulingIn, responses={201: RulingOut}, filters=False)
    def post(self, request: Request, pk: int) -> Response:
        """Release or reject a lot, or put it in quarantine. No device releases a lot: that is a person's judgement."""
        lot = the_lot(self)
        return self.written(rule_lot(actor=self.actor, lot=lot, at=self.at, **self.body(RulingIn)))


class CorrectionOut(serializers.ModelSerializer):
    """Something about a lot that was entered wrongly: what it said and what it says now."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = LotCorrection
        fields = read_only_fields = ["id", "lot", "field", "before", "after", "why", "at", "signed_by"]


class CorrectionIn(Body):
    """What a lot's papers really say; what is left out stays as it is."""

    supplier_lot = TextField(max_length=200, required=False, allow_blank=True)
    best_before = DayField(required=False, allow_null=True)
    unit_cost = FigureField(max_digits=14, decimal_places=6, required=False, allow_null=True)
    received_on = DayField(required=False, help_text="Not later than what was first used of the lot or counted.")
    why = TextField(max_length=400)


class Corrections(OfLot):
    """What was corrected about one lot."""

    model = LotCorrection
    serializer_class = CorrectionOut

    def rows(self) -> QuerySet[LotCorrection]:
        """Return the corrections; those of the cost to whoever may know it."""
        rows = super().rows()
        return rows if Right.SEE_COSTS in self.request.rights else rows.exclude(field=LotCorrection.Field.UNIT_COST)

    @extend_schema(request=CorrectionIn, responses={201: CorrectionOut(many=True)}, filters=False)
    def post(self, request: Request, pk: int) -> Response:
        """Correct what was entered wrongly: one row for each field that changes, none where all stood so."""
        lot = the_lot(self)
        said = {"supplier_lot": lot.supplier_lot, "best_before": lot.best_before, "unit_cost": lot.unit_cost}
        said["received_on"] = lot.received_on
        said |= self.body(CorrectionIn)
        why = said.pop("why")
        return self.written(
            correct_lot(actor=self.actor, lot=lot, papers=LotPapers(**said), why=why, at=self.at), many=True
        )  # fmt: skip


class ValueOut(serializers.ModelSerializer):
    """A figure of a lot's certificate or of a measurement."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = LotValue
        fields = read_only_fields = ["id", "lot", "name", "value", "unit", "at", "signed_by"]


class ValueIn(Body):
    """A figure to be recorded."""

    name = TextField(max_length=200)
    value = FigureField(max_digits=13, decimal_places=5)
    unit = TextField(max_length=40, required=False, allow_blank=True, default="")
    value_confirmed = FlagField(
        default=False, help_text="Keep a figure outside of what is published or sold; without it the answer is 409."
    )
    lye_confirmed = LyeConfirmedField()


class Values(OfLot):
    """The figures of one lot; the newest of a name counts."""

    model = LotValue
    serializer_class = ValueOut

    @extend_schema(request=ValueIn, responses={201: ValueOut}, filters=False)
    def post(self, request: Request, pk: int) -> Response:
        """Record a figure, such as 98.5 % purity.

        A purity of lye that is hardly sold, or a saponification value outside of the published range, is answered
        with ``value_doubtful`` (409) until ``value_confirmed`` comes with it; what moves the lye of versions that were
        poured with ``poured_lye_moves`` (409) and their figures, until its ``confirm`` comes in ``lye_confirmed``.
        """
        lot = the_lot(self)
        return self.written(record_value(actor=self.actor, lot=lot, at=self.at, **self.body(ValueIn), tell=self.tell))
