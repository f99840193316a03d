"""Materials: what the storeroom holds, how much of it, and which lots to take."""

from dataclasses import replace
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import AmountField, ChoiceField, DayField, LyeConfirmedField, TextField
from api.filtering import ChoiceFilter, FlagFilter, TextFilter
from api.proposals import PutOffUntilOut, ToOrderOut
from api.views import Body, Change, Detail, Listing, WorkshopView
from curehouse.common.time import local_day
from curehouse.flows.stock import edit_material
from curehouse.flows.take_off import retire_material
from curehouse.flows.use_stock import Proposal, propose
from curehouse.workshops.roles import Right
from inventory.adapter import Cover, covers
from inventory.models import Irregular, Lot, Material
from inventory.services.things import MaterialEntry, take_up_material, write_material
from inventory.to_order import keys_to_order, read_to_order


class MaterialOut(serializers.ModelSerializer):
    """A material, kept in grams or counted in pieces."""

    class Meta:
        model = Material
        fields = read_only_fields = ["id", "name", "kind", "measure", "retired_at"]


class MaterialIn(Body):
    """A material to be written down; without ``measure`` its kind says how it is kept."""

    name = TextField(max_length=200)
    kind = ChoiceField(choices=Material.Kind.choices)
    measure = ChoiceField(choices=Material.Measure.choices, required=False)


class MaterialChangeIn(Change):
    """What is to be changed about a material."""

    name = TextField(max_length=200, required=False)
    kind = ChoiceField(choices=Material.Kind.choices, required=False)
    measure = ChoiceField(choices=Material.Measure.choices, required=False)
    lye_confirmed = LyeConfirmedField()


class MaterialFilters(filters.FilterSet):
    """Which materials."""

    kind = ChoiceFilter(choices=Material.Kind.choices)
    measure = ChoiceFilter(choices=Material.Measure.choices)
    in_use = FlagFilter(field_name="retired_at", lookup_expr="isnull")
    name = TextFilter(field_name="name", lookup_expr="iexact")


def materials_shown(view: WorkshopView) -> QuerySet[Material]:
    """Return the materials."""
    return Material.objects.within(view.workshop)


class Materials(Listing):
    """The workshop's materials."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Material
    serializer_class = MaterialOut
    filterset_class = MaterialFilters
    ordering_fields = ("name", "kind", "id")
    ordering = "name"
    rows = materials_shown

    @extend_schema(request=MaterialIn, responses={201: MaterialOut})
    def post(self, request: Request) -> Response:
        """Write a material down; a name is given once, however its letters are written."""
        return self.made(write_material(workshop=self.workshop, entry=MaterialEntry(**self.body(MaterialIn))).pk)


class OneMaterial(Detail):
    """A material."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Material
    serializer_class = MaterialOut
    rows = materials_shown

    @extend_schema(request=MaterialChangeIn, responses={200: MaterialOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Change a material; once it has lots, grams stay grams and pieces pieces.

        A name that makes it another fat may move the lye of versions that were poured: ``poured_lye_moves`` (409)
        says how far, until its ``confirm`` comes in ``lye_confirmed``.
        """
        material = self.here(materials_shown(self), pk, what="material")
        entry = MaterialEntry(material.name, material.kind, material.measure)
        sent = self.body(MaterialChangeIn)
        read = sent.pop("lye_confirmed", "")
        edit_material(material=material, entry=replace(entry, **sent), at=self.at, lye_confirmed=read, tell=self.tell)
        return Response(self.shown(pk))


class RetireMaterial(Detail):
    """Taking a material out of use."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Material
    serializer_class = MaterialOut
    rows = materials_shown
    http_method_names = ("post", "options")
    field_names = {"material": None}  # noqa: RUF012

    @extend_schema(request=None, responses={200: MaterialOut})
    def post(self, request: Request, pk: int) -> Response:
        """Take a material out of use; what was booked stays. With stock left it is refused."""
        retire_material(actor=self.actor, material=self.here(materials_shown(self), pk, what="material"), at=self.at)
        return Response(self.shown(pk))


class TakeUpMaterial(Detail):
    """Putting a material into use again."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Material
    serializer_class = MaterialOut
    rows = materials_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: MaterialOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a retired material into use again."""
        take_up_material(material=self.here(materials_shown(self), pk, what="material"))
        return Response(self.shown(pk))


class StockOut(serializers.ModelSerializer):
    """What is here of a material, and how long it lasts."""

    on_hand = serializers.DecimalField(max_digits=13, decimal_places=3, read_only=True, help_text="Grams or pieces.")
    usable = serializers.DecimalField(
        max_digits=13, decimal_places=3, read_only=True, help_text="Of that, what is released and not expired."
    )
    on_hand_is_estimated = serializers.BooleanField(read_only=True, help_text="A part of it was judged by eye.")
    usable_is_estimated = serializers.BooleanField(read_only=True, help_text="A part of what is usable was judged by eye.")
    to_order = serializers.SerializerMethodField(help_text="The order that waits for a decision on it; null: none does.")
    put_off = serializers.SerializerMethodField(
        help_text="Until when it is put off, or an order of it called off; null: it is not."
    )
    use_a_day = serializers.SerializerMethodField(help_text="The recent use a day; null where none was used.")
    days_of_cover = serializers.SerializerMethodField(help_text="Days the usable stock lasts at that use.")

    class Meta:
        model = Material
        fields = read_only_fields = [
            "id",
            "name",
            "kind",
            "measure",
            "on_hand",
            "usable",
            "on_hand_is_estimated",
            "usable_is_estimated",
            "to_order",
            "put_off",
            "use_a_day",
            "days_of_cover",
        ]

    def _cover(self, material: Material) -> Cover:
        return self.context["view"].covers.get(material.pk, Cover(None, None))

    @extend_schema_field(ToOrderOut(allow_null=True))
    def get_to_order(self, material: Material) -> dict[str, Any] | None:
        """Return the order that the house would send, and by when to decide."""
        found = self.context["view"].of_orders.proposed.get(material.pk)
        return None if found is None else ToOrderOut(found).data

    @extend_schema_field(PutOffUntilOut(allow_null=True))
    def get_put_off(self, material: Material) -> dict[str, Any] | None:
        """Return until when it is put off, and why."""
        found = self.context["view"].of_orders.put_off.get(material.pk)
        return None if found is None else PutOffUntilOut(found).data

    def get_use_a_day(self, material: Material) -> float | None:
        """Return the grams or pieces used a day."""
        return self._cover(material).a_day

    def get_days_of_cover(self, material: Material) -> float | None:
        """Return the days."""
        return self._cover(material).days


class StockFilters(filters.FilterSet):
    """Which materials."""

    kind = ChoiceFilter(choices=Material.Kind.choices)
    to_order = FlagFilter(method="to_order_or_not", help_text="true: it waits on an order that is to be decided.")

    def to_order_or_not(self, rows: QuerySet[Material], name: str, value: bool) -> QuerySet[Material]:  # noqa: FBT001
        """Return the materials that wait on an order, or the others."""
        keys = keys_to_order(workshop=self.request.actor.workshop)
        return rows.filter(pk__in=keys) if value else rows.exclude(pk__in=keys)


class Stock(Listing):
    """What is here of each material in use, and how long it lasts; ``id`` is the material's."""

    reads = Right.SEE
    model = Material
    serializer_class = StockOut
    filterset_class = StockFilters
    ordering_fields = ("name", "kind", "id")
    ordering = "name"

    def rows(self) -> QuerySet[Material]:
        """Return the materials in use with what is here of them."""
        self.covers = covers(workshop=self.workshop, at=self.at)
        today = local_day(self.at, self.workshop.time_zone)
        self.of_orders = read_to_order(workshop=self.workshop, on=today)
        return Material.objects.within(self.workshop).in_use().with_stock(on=today)


class ProposalQuery(Body):
    """What a proposal is asked for."""

    amount = AmountField(help_text="Grams or pieces.")
    day = DayField(required=False, help_text="The day of the pour; today unless said.")


class TakeOfLotOut(serializers.Serializer):
    """So much of a lot."""

    lot = serializers.IntegerField()
    lot_name = serializers.CharField()
    best_before = serializers.DateField(allow_null=True)
    amount = serializers.DecimalField(max_digits=13, decimal_places=3)


class PassedOverOut(serializers.Serializer):
    """A lot that holds something and is not in order."""

    lot = serializers.IntegerField()
    lot_name = serializers.CharField()
    why = serializers.ChoiceField(choices=Irregular.choices)


class ProposalOut(serializers.Serializer):
    """Which lots to take, what is missing, and what is here but not in order."""

    takes = TakeOfLotOut(many=True)
    short = serializers.DecimalField(max_digits=13, decimal_places=3, help_text="What no lot in order holds.")
    passed_over = PassedOverOut(many=True)


class MaterialProposal(Detail):
    """Which lots of a material to take."""

    reads = Right.SEE
    model = Material
    serializer_class = ProposalOut
    rows = materials_shown

    @extend_schema(parameters=[ProposalQuery], responses={200: ProposalOut})
    def get(self, request: Request, pk: int) -> Response:
        """Propose lots for an amount: first expired, first out; never one that is expired or not released."""
        material = self.here(materials_shown(self), pk, what="material")
        asked = ProposalQuery().run_validation(request.query_params.dict())
        day = asked.get("day") or local_day(self.at, self.workshop.time_zone)
        found = propose(workshop=self.workshop, material=material, amount=asked["amount"], day=day)
        return Response(ProposalOut(_shown(found)).data)


def _shown(found: Proposal) -> dict[str, Any]:
    return {
        "takes": [{**_named(lot), "best_before": lot.best_before, "amount": amount} for lot, amount in found.takes],
        "short": found.short,
        "passed_over": [{**_named(lot), "why": why} for lot, why in found.passed_over],
    }


def _named(lot: Lot) -> dict[str, Any]:
    return {"lot": lot.pk, "lot_name": str(lot)}
