"""What blends come down to: by their recipes ahead of a run, and by what really went into their lots."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from curehouse.workshops.models import Workshop
from inventory.models import Blend, BlendPart, Lot, Making, MakingTake, Material

# What is not kept in the storeroom is always there: more than any run needs.
WITHOUT_END_G = 1e12
_UNKEPT = "not kept: "
# What is mixed of these stays what it was: of fats and liquids a formula reckons with figures that a mix has not.
MIXED_KINDS = (Material.Kind.ADDITIVE, Material.Kind.FRAGRANCE, Material.Kind.COLOUR)
# Lye is made from one dry lye and water alone, and its lots say how strong they are (`solutions.py`).
MADE_KINDS = (*MIXED_KINDS, Material.Kind.LYE)


@dataclass(frozen=True, slots=True)
class Recipe:
    """How a gram of a blend is made, as it stands today: of each part so many grams, its loss included."""

    blend: Blend
    shares: tuple[tuple[BlendPart, Decimal], ...]

    @property
    def material(self) -> Material:
        """Return what is made."""
        return self.blend.material

    @property
    def core_shares(self) -> tuple[tuple[str, float], ...]:
        """Return the parts as the core calls them."""
        return tuple((part_key(part), float(share)) for part, share in self.shares)


def may_be_made(material: Material) -> bool:
    """Return whether a material of its kind is made by a recipe."""
    return material.kind in MADE_KINDS


def part_key(part: BlendPart) -> str:
    """Return what a part is called in the core: as its material, or by its name where it is not kept in the storeroom."""
    return f"{_UNKEPT}{part.name.casefold()}" if part.material_id is None else str(part.material_id)


def is_unkept(key: str) -> bool:
    """Return whether the core's key is of something that is not kept in the storeroom."""
    return key.startswith(_UNKEPT)


def recipe_of(blend: Blend) -> Recipe:
    """Return the shares of a recipe, its parts at hand."""
    return _recipe(blend, sorted(blend.parts.all(), key=lambda part: part.place))


def _recipe(blend: Blend, parts: Sequence[BlendPart]) -> Recipe:
    whole = sum((part.parts for part in parts), Decimal(0)) * blend.yielded
    return Recipe(blend, tuple((part, part.parts / whole) for part in parts))


def recipes_of(workshop: Workshop) -> dict[int, Recipe]:
    """Return the recipes in force by the key of what is made; one query."""
    rows: dict[Blend, list[BlendPart]] = {}
    newest = Blend.objects.within(workshop).written().values("pk")
    parts = BlendPart.objects.within(workshop).filter(blend__in=newest, blend__material__retired_at=None)
    for part in parts.select_related("blend__material", "material").order_by("blend__material__name", "blend", "place"):
        rows.setdefault(part.blend, []).append(part)
    return {blend.material_id: _recipe(blend, own) for blend, own in rows.items()}


def materials_in(recipes: Mapping[int, Recipe]) -> dict[int, Material]:
    """Return by their keys what is made by recipes, and all their parts that are kept in the storeroom."""
    made = {key: one.material for key, one in recipes.items()}
    return made | {part.material_id: part.material for one in recipes.values() for part, _share in one.shares if part.material}


def hang_together(recipes: Mapping[int, Recipe], materials: Iterable[int]) -> set[int]:
    """Return the keys of *materials*, and of all that shares a part with them through blends."""
    found = set(materials)
    rings = [{key, *(part.material_id for part, _share in one.shares if part.material_id)} for key, one in recipes.items()]
    before = -1
    while len(found) != before:
        before = len(found)
        for ring in rings:
            if ring & found:
                found |= ring
    return found


def parts_down(recipes: dict[int, Recipe], material: int) -> set[int]:
    """Return the keys of all that goes into a material, through blends within it."""
    found: set[int] = set()
    ahead = [material]
    while ahead:
        one = recipes.get(ahead.pop())
        for part, _share in () if one is None else one.shares:
            if part.material_id is not None and part.material_id not in found:
                found.add(part.material_id)
                ahead.append(part.material_id)
    return found


def holds_lye(workshop: Workshop, material: Material, recipes: dict[int, Recipe]) -> bool:
    """Return whether a blend holds lye, also through a blend within it."""
    keys = {material.pk, *parts_down(recipes, material.pk)}
    return Material.objects.within(workshop).filter(pk__in=keys, kind=Material.Kind.LYE).exists()


def was_made(material: Material) -> bool:
    """Return whether lots of a material were made here, by whatever recipe."""
    return Making.objects.within(material.workshop).filter(lot__material=material).exists()


def place_among_blends(material: Material) -> str:
    """Return in words why a material has to stay what may be mixed: made by a recipe, part of one, made before; or empty."""
    written = Blend.objects.within(material.workshop).written()
    if written.filter(material=material).exists():
        return f"{material} is made by a recipe"
    if (blend := written.filter(parts__material=material).select_related("material").first()) is not None:
        return f"{material} is a part of {blend}"
    return f"lots of {material} were made here" if was_made(material) else ""


def lots_within(workshop: Workshop, lots: Iterable[int]) -> dict[int, list[MakingTake]]:
    """Return what went into lots (keys), and into lots within them, by the key of each lot that was made; a query a level."""
    found: dict[int, list[MakingTake]] = {}
    ahead = set(lots)
    while ahead:
        rows = list(MakingTake.objects.within(workshop).of_lots(ahead))
        for row in rows:
            found.setdefault(row.making.lot_id, []).append(row)
        ahead = {row.movement.lot_id for row in rows if row.movement is not None} - found.keys()
    return found


def lots_with(workshop: Workshop, lot: Lot) -> list[Lot]:
    """Return the lots that *lot* went into, through blends within blends, the nearest first; a query a level."""
    found: dict[int, Lot] = {}
    ahead = {lot.pk}
    while ahead:
        rows = MakingTake.objects.within(workshop).from_lots(ahead)
        new = {row.making.lot_id: row.making.lot for row in rows if row.making.lot_id not in found}
        found |= new
        ahead = set(new)
    return list(found.values())


def down_to_lots(workshop: Workshop, taken: Sequence[tuple[Lot, Decimal]]) -> list[list[tuple[Lot, Decimal]]]:
    """Return of each of *taken* (grams of lots) the lots it comes down to, pro rata: itself where it was not made here."""
    within = lots_within(workshop, {lot.pk for lot, _grams in taken})
    made = dict(Making.objects.within(workshop).filter(lot__in=within).values_list("lot", "made_g")) if within else {}

    def down(lot: Lot, grams: Decimal) -> list[tuple[Lot, Decimal]]:
        if lot.pk not in within:
            return [(lot, grams)]
        kept = [row for row in within[lot.pk] if row.movement is not None]
        return [one for row in kept for one in down(row.movement.lot, grams * row.amount_g / made[lot.pk])]

    return [down(lot, grams) for lot, grams in taken]


def lye_of_blends(workshop: Workshop, taken: Sequence[tuple[Lot, Decimal]]) -> list[tuple[Lot, Decimal]]:
    """Return *taken* (grams of lots) with what holds lye replaced by the lye that went into it."""
    found: list[tuple[Lot, Decimal]] = []
    for one, parts in zip(taken, down_to_lots(workshop, taken), strict=True):
        found += [part for part in parts if part[0].material.kind == Material.Kind.LYE] or [one]
    return found
