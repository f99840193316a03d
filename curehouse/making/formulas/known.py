"""What is known of the materials a formula names: the workshop's own figures, and those of the lots it would take."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from curehouse.core.chemistry.called import is_of_the_other
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.entries import LineEntry
from curehouse.making.formulas.names import is_called_powder, key_called
from curehouse.making.liquids import Kind, liquid_kinds
from curehouse.making.models import MaterialFacts
from curehouse.workshops.models import Workshop
from inventory.models import Lot, LotValue, Material
from inventory.services.lots import PLAUSIBLE_PURITY, PLAUSIBLE_STRENGTH, PURITY_NAMES, STRENGTH_NAMES

# What people call a figure on a certificate, in small letters, by what it is here.
LOT_FIGURES: Mapping[str, str] = {
    "saponification value": "saponification",
    "saponification": "saponification",
    "saponification number": "saponification",
    "sap": "saponification",
    "sap value": "saponification",
    "sv": "saponification",
    **dict.fromkeys(PURITY_NAMES, "purity"),
    "fat": "fat",
    "milk fat": "fat",
    "butterfat": "fat",
    "water": "water",
    "sugar": "sugar",
    "lactose": "sugar",
    "carbohydrate": "sugar",
    "carbohydrates": "sugar",
}
# Between these a figure can be meant; what lies outside is not counted and said so.
_PLAUSIBLE = {
    # With its own doubt a value stays between 60 and 400.
    "saponification": (Decimal(61), Decimal(398)),
    "purity": PLAUSIBLE_PURITY,
    "fat": (Decimal(0), Decimal(90)),
    "water": (Decimal(0), Decimal(100)),
    "sugar": (Decimal(0), Decimal(100)),
}
# What is written for the unit of a figure, in small letters and without blanks, and by what it is multiplied; a
# figure in another unit is not counted and said so. Grams a litre need the milk's density, which no certificate tells.
_PER_CENT = {"": 1, "%": 1, "percent": 1, "g/100g": 1, "%w/w": 1, "%m/m": 1, "g/kg": Decimal("0.1"), "mg/g": Decimal("0.1")}
_UNITS: Mapping[str, Mapping[str, Decimal | int]] = {
    "saponification": {
        "": 1, "mgkoh/g": 1, "mg/g": 1, "mgkohperg": 1, "mgkohg-1": 1, "gkoh/kg": 1, "g/kg": 1, "mgkoh/goil": 1,
        "mgkoh/gfat": 1, "gkoh/g": 1000,
    },
    **dict.fromkeys(("fat", "water", "sugar", "purity"), _PER_CENT),
}  # fmt: skip


def counted_in_unit(what: str, value: Decimal, unit: str) -> Decimal | None:
    """Return a figure of a certificate in what it is counted in (mg KOH per g, or per cent), None in an unknown unit."""
    times = _UNITS[what].get("".join(unit.casefold().split()).rstrip("."))
    return None if times is None else value * times


def figure_called(name: str, material: Material, *, is_dissolved: bool = False) -> str:
    """Return what a figure of a certificate is by its name, of lye that was dissolved here its strength; or nothing.

    How much of the one alkali is in the other says nothing of its purity.
    """
    called = " ".join(name.split()).casefold()
    found = "purity" if is_dissolved and called in STRENGTH_NAMES else LOT_FIGURES.get(called, "")
    return "" if found == "purity" and is_of_the_other(name, material.name, is_dissolved=is_dissolved) else found


def _later(_before: Decimal, now: Decimal) -> Decimal:
    return now


_SAFER: Mapping[str, Callable[[Decimal, Decimal], Decimal]] = {"purity": max, "saponification": min, "sugar": max}


@dataclass(frozen=True, slots=True)
class LotKnown:
    """A lot that a formula could take of a material, with the figures of its certificate.

    ``figures`` are as on the paper: mg KOH per g, or per cent. ``odd`` names those that cannot be meant.
    """

    lot: Lot
    figures: Mapping[str, Decimal] = field(default_factory=dict)
    odd: tuple[LotValue, ...] = ()
    # When the first that counts of each of these was told.
    told_at: Mapping[str, datetime] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Known:
    """What the house knows of materials, by their keys."""

    facts: Mapping[int, MaterialFacts] = field(default_factory=dict)
    # Of each material those that may be planned with, first expired first.
    lots: Mapping[int, tuple[LotKnown, ...]] = field(default_factory=dict)

    def key_of(self, material: Material) -> str:
        """Return which row of the catalogue a material is: as the workshop says, or by its name."""
        own = self.facts.get(material.pk)
        return own.key if own is not None and own.key else key_by_name(material)

    def of_line(self, line: LineEntry) -> MaterialFacts | None:
        """Return the workshop's own figures of what a line is of."""
        return None if line.material is None else self.facts.get(line.material.pk)

    def liquid_kind(self, line: LineEntry) -> Kind:
        """Return what the liquid of a line is: as the workshop says, or the catalogue."""
        own, row = self.of_line(line), liquid_kinds().get(line.key)
        if own is not None and own.liquid_kind:
            return Kind(own.liquid_kind)
        if row is None:
            # In no list, a powder brings no water all the same.
            return Kind.POWDER if is_called_powder(line.name) else Kind.OTHER
        return row.kind

    def is_powder(self, line: LineEntry) -> bool:
        """Return whether a liquid's line is a powder, which is weighed dry and counts as no liquid."""
        return self.liquid_kind(line) is Kind.POWDER


def key_by_name(material: Material) -> str:
    """Return the catalogue's row that is called like *material* (`names.key_called`), or nothing."""
    return key_called(material.name, {"fat": fat_kinds(), "liquid": liquid_kinds()}.get(material.kind, {}))


def known_of(*, workshop: Workshop, materials: Iterable[Material | None], on: date) -> Known:
    """Return what is known of *materials* on a day, with three queries however many they are."""
    keys = {material.pk for material in materials if material is not None}
    if not keys:
        return Known()
    facts = {one.material_id: one for one in MaterialFacts.objects.within(workshop).filter(material__in=keys)}
    usable = list(Lot.objects.within(workshop).filter(material__in=keys).usable(on=on).first_expired_first().named())
    figures = figures_of(workshop, usable)
    lots: dict[int, tuple[LotKnown, ...]] = {}
    for lot in usable:
        lots[lot.material_id] = (*lots.get(lot.material_id, ()), figures[lot.pk])
    return Known(facts, lots)


def figures_of(workshop: Workshop, lots: Iterable[Lot], *, dissolved: Collection[int] = ()) -> dict[int, LotKnown]:
    """Return *lots* by their keys with the figures of their certificates; one query.

    *dissolved* are those among them that are lye in water, whose purity is its strength and lower.
    """
    rows = {lot.pk: lot for lot in lots}
    figures: dict[int, dict[str, Decimal]] = {}
    odd: dict[int, list[LotValue]] = {}
    told: dict[int, dict[str, datetime]] = {}
    for value in LotValue.objects.within(workshop).filter(lot__in=rows).newest_of_each_name():
        name = figure_called(value.name, rows[value.lot_id].material, is_dissolved=value.lot_id in dissolved)
        if not name:
            continue
        is_strength = name == "purity" and value.lot_id in dissolved
        low, high = PLAUSIBLE_STRENGTH if is_strength else _PLAUSIBLE[name]
        counted = counted_in_unit(name, value.value, value.unit)
        if counted is not None and low <= counted <= high:
            own = figures.setdefault(value.lot_id, {})
            # Under two names, such as assay and purity, the one that asks for less lye counts, or the more of sugar.
            when = told.setdefault(value.lot_id, {})
            when[name] = min(when.get(name, value.at), value.at)
            own[name] = _SAFER.get(name, _later)(own.get(name, counted), counted)
        else:
            odd.setdefault(value.lot_id, []).append(value)
    return {pk: LotKnown(lot, figures.get(pk, {}), tuple(odd.get(pk, ())), told.get(pk, {})) for pk, lot in rows.items()}
