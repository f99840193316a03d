"""What is made from others: recipes, what was made by them, and the way of a lot through blends."""

from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, CountField, DayField, FigureField, FlagField, GramsField, KeyField, MomentField, TextField
from api.views import Body, WorkshopView
from curehouse.flows.blends import make_blend, write_blend
from curehouse.making.tracing import uses_through
from curehouse.workshops.roles import Right
from inventory.blends import lots_with, lots_within
from inventory.models import Blend, BlendPart, Lot, Making, MakingTake, Material, Movement
from inventory.services.blends import MOST_PARTS, MOST_TAKES, BlendEntry, MakingEntry, PartEntry, TakeEntry


class PartOut(serializers.ModelSerializer):
    """A part by mass; without a material it is not kept in the storeroom."""

    class Meta:
        model = BlendPart
        fields = read_only_fields = ["material", "name", "parts"]


class RecipeOut(serializers.ModelSerializer):
    """How a material is made from others, as it was written once; the newest counts, without parts it is not made."""

    parts = PartOut(many=True, read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Blend
        fields = read_only_fields = ["id", "material", "number", "parts", "yielded", "keeps_days", "note", "at", "signed_by"]


class PartIn(Body):
    """A part by mass: of a material, or of what is not kept in the storeroom by its name."""

    parts = GramsField(help_text="Parts by mass: 1 and 1, or 500 and 500, say the same.")
    material = KeyField(required=False, allow_null=True)
    name = TextField(max_length=120, required=False, allow_blank=True)


class RecipeIn(Body):
    """A recipe; with an empty list the material is not made any more."""

    parts = PartIn(many=True, max_length=MOST_PARTS)
    yielded = FigureField(max_digits=5, decimal_places=4, default=Decimal(1), help_text="Comes of a gram of parts, in grams.")
    keeps_days = CountField(required=False, allow_null=True)
    note = TextField(max_length=4000, required=False, allow_blank=True)


def _material(view: WorkshopView, pk: int) -> Material:
    return view.here(Material.objects.within(view.workshop), pk, what="material")


class Recipes(WorkshopView):
    """How a material is made from others."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Blend
    serializer_class = RecipeOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: RecipeOut(many=True)})
    def get(self, request: Request, pk: int) -> Response:
        """Tell every recipe of a material, the newest first."""
        rows = Blend.objects.within(self.workshop).filter(material=_material(self, pk)).newest_first()
        return Response(RecipeOut(rows, many=True).data)

    @extend_schema(request=RecipeIn, responses={200: RecipeOut(many=True)})
    def post(self, request: Request, pk: int) -> Response:
        """Write how a material is made; lots that were made keep the recipe they were made by.

        Additives, fragrances and colours are mixed. Sodium hydroxide is dissolved in as much water beforehand: no more than
        stays dissolved (`over_solubility`), and not thinner, for then water dries out unseen (`may_dry`); potassium
        hydroxide is not. In a mix lye is refused (`lye_part`), as are fats and liquids (`kind_not_mixed`),
        and what a formula reckons with as an acid (`reckoned_with`).
        """
        material, sent = _material(self, pk), self.body(RecipeIn)
        materials = Material.objects.within(self.workshop)
        parts = []
        for part in sent["parts"]:
            of = part.get("material")
            found = None if of is None else self.here(materials, of, what="material", field="parts")
            parts.append(PartEntry(part["parts"], found, part.get("name", "")))
        entry = BlendEntry(parts, sent["yielded"], sent.get("keeps_days"), sent.get("note", ""))
        write_blend(actor=self.actor, material=material, entry=entry, at=self.at)
        return self.get(request, pk)


class TakeOut(serializers.ModelSerializer):
    """What went in, in grams; without a lot it is not kept in the storeroom."""

    lot = serializers.IntegerField(source="movement.lot_id", read_only=True, allow_null=True, default=None)
    taken_back = serializers.SerializerMethodField()

    class Meta:
        model = MakingTake
        fields = read_only_fields = ["lot", "name", "amount_g", "taken_back"]

    @extend_schema_field(serializers.BooleanField())
    def get_taken_back(self, take: MakingTake) -> bool:
        """Return whether the movement was taken back."""
        return take.movement is not None and hasattr(take.movement, "corrected_by")


class MakingOut(serializers.ModelSerializer):
    """A blend that was made, by which recipe, and the lot that came of it."""

    recipe = serializers.IntegerField(source="blend_id", read_only=True)
    takes = TakeOut(many=True, read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Making
        fields = read_only_fields = ["id", "recipe", "lot", "made_g", "made_at", "takes", "note", "signed_by", "written_at"]


class TakeIn(Body):
    """What went in: of a lot, or of what is not kept in the storeroom by its name."""

    amount_g = GramsField()
    lot = KeyField(required=False, allow_null=True)
    name = TextField(max_length=120, required=False, allow_blank=True)
    reason = TextField(max_length=400, required=False, allow_blank=True, help_text="Why, of a lot that is not in order.")


_ENTERS = [one for one in Lot.Standing.choices if one[0] != Lot.Standing.REJECTED]


class MakingIn(Body):
    """A blend that was made."""

    made_g = GramsField(help_text="What came of it, as it was weighed.")
    takes = TakeIn(many=True, allow_empty=False, max_length=MOST_TAKES)
    made_at = MomentField(required=False, help_text="When; without it, now.")
    best_before = DayField(required=False, allow_null=True)
    standing = ChoiceField(choices=_ENTERS, default=Lot.Standing.QUARANTINE)
    why = TextField(max_length=400, required=False, allow_blank=True)
    note = TextField(max_length=4000, required=False, allow_blank=True)
    recipe = KeyField(help_text="The recipe by which it was made; if another has come since, it is refused.")
    is_off_confirmed = FlagField(default=False, help_text="Lye that is further from its recipe was really weighed so.")


class Makings(WorkshopView):
    """What was made of a material."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Making
    serializer_class = MakingOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: MakingOut(many=True)})
    def get(self, request: Request, pk: int) -> Response:
        """Tell the last hundred makings of a material, the newest first."""
        rows = Making.objects.within(self.workshop).filter(blend__material=_material(self, pk)).newest_first()
        return Response(MakingOut(rows[:100], many=True).data)

    @extend_schema(request=MakingIn, responses={200: MakingOut(many=True)})
    def post(self, request: Request, pk: int) -> Response:
        """Book that some of a material was made: its lots are used, and a lot of it comes in."""
        material, sent = _material(self, pk), self.body(MakingIn)
        lots = Lot.objects.within(self.workshop)
        takes = []
        for take in sent.pop("takes"):
            of = take.get("lot")
            lot = None if of is None else self.here(lots, of, what="lot", field="takes")
            takes.append(TakeEntry(take["amount_g"], lot, take.get("name", ""), take.get("reason", "")))
        entry = MakingEntry(takes=takes, **{"made_at": self.at, **sent})
        make_blend(actor=self.actor, material=material, entry=entry, at=self.at, source=Movement.Source.API)
        return self.get(request, pk)


class LotNamed(serializers.Serializer):
    """A lot by its id and name."""

    id = serializers.IntegerField()
    name = serializers.CharField()


class TraceOut(serializers.Serializer):
    """Where a lot comes from and went, through blends within blends."""

    within = LotNamed(many=True, help_text="The lots that went into it.")
    into = LotNamed(many=True, help_text="The lots that it went into.")
    batches = serializers.ListField(child=serializers.IntegerField(), help_text="The batches that took of it or of those.")


class LotTrace(WorkshopView):
    """The way of a lot."""

    reads = Right.SEE
    model = Lot
    serializer_class = TraceOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: TraceOut})
    def get(self, request: Request, pk: int) -> Response:
        """Tell which lots are in a lot, which it is in, and which batches took of any of these."""
        lot = self.here(Lot.objects.within(self.workshop).named(), pk, what="lot")
        rows = [take for takes in lots_within(self.workshop, [lot.pk]).values() for take in takes]
        within = {take.movement.lot_id: take.movement.lot for take in rows if take.movement is not None}
        batches = sorted(set(uses_through(self.workshop, lot).values_list("batch_id", flat=True)))
        into = lots_with(self.workshop, lot)
        return Response({"within": _named(within.values()), "into": _named(into), "batches": batches})


def _named(lots: Any) -> list[dict[str, Any]]:
    return [{"id": lot.pk, "name": str(lot)} for lot in lots]
