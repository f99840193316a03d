"""What a liquid of a formula is made of: by its line, its lots, the workshop, the list; and what of it nobody knows.

What is not known counts as the liquid that stands in for its kind (`liquids.stand_in`), and is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import own_range
from curehouse.core.chemistry.liquids import Composition, Liquid, LiquidKind, Place
from curehouse.making.formulas.entries import LineEntry
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.lots import Take, weighted
from curehouse.making.liquids import liquid_kinds, milk_fat_values, stand_in
from curehouse.making.models import MaterialFacts

_NOISE = 1e-9


def liquid_of(line: LineEntry, mass_g: float, known: Known, found: Sequence[Take]) -> Liquid:
    """Return the liquid of a line, *mass_g* grams of it, as the core takes it; *found* are the lots it would be of."""
    kind, facts = known.liquid_kind(line), known.of_line(line)
    parts = _Parts(line, facts, found, kind)
    fat, is_measured = parts.of("fat", line.fat_fraction, facts and facts.fat_fraction)
    sugar, _ = parts.of("sugar", None, facts and facts.sugar_fraction)
    left = max(0.0, 1 - fat.middle - sugar.middle)
    water, _ = parts.of("water", line.water_fraction, facts and facts.water_fraction, most=left)
    saponification = _fat_saponification(line, facts, kind)
    if fat.high > 0 and saponification is None:
        raise Invalid(
            "unknown_fat",
            f"How much lye the fat of {line.name} takes is not known: leave its fat empty, "
            "or type the saponification value of its fat where its material stands in the storeroom.",
            field="liquids",
        )
    if water.middle + fat.middle + sugar.middle > 1 + _NOISE:
        raise Invalid(
            "fraction",
            f"{line.name}: its water ({water.middle:.1%}), fat ({fat.middle:.1%}) and sugar ({sugar.middle:.1%}) "
            "make more than 100\u00a0%: check the figures.",
            field="liquids",
        )
    thickened = line.is_thickened
    if thickened is None and facts is not None:
        thickened = facts.is_thickened
    return Liquid(
        name=line.name,
        mass_g=mass_g,
        place=Place(line.goes_in),
        kind=kind,
        made_of=Composition(water, fat, sugar.middle, saponification, fat_measured=is_measured),
        is_thickened=thickened,
        unknown=tuple(name for name in ("water", "fat", "sugar") if name in parts.unknown),
        counted_as=parts.counted_as,
    )


@dataclass(slots=True)
class _Parts:
    line: LineEntry
    facts: MaterialFacts | None
    found: Sequence[Take]
    kind: LiquidKind
    unknown: set[str] = field(default_factory=set)

    def of(self, name: str, own: Decimal | None, facts: Decimal | None, *, most: float = 1.0) -> tuple[Bounds, bool]:
        """Return a part (0-1) of the liquid, and whether it was measured.

        It is its line's own, else that of its lots, the workshop's or the list's; else that of what
        stands in for it, up to *most*.
        """
        if own is not None:
            return Bounds.exactly(float(own)), True
        other = self._listed(name) if facts is None else Bounds.exactly(float(facts))
        of_lots = weighted(self.found, name, other)
        if of_lots is not None:
            return of_lots, all(take.figure(name) is not None for take in self.found)
        if other is not None:
            return other, False
        self.unknown.add(name)
        usual = _part(stand_in(self.kind).made_of, name)
        return Bounds(min(usual.low, most), min(usual.middle, most), min(usual.high, most)), False

    def _listed(self, name: str) -> Bounds | None:
        row = liquid_kinds().get(self.line.key)
        if row is None and self.kind is LiquidKind.WATER:
            row = stand_in(self.kind)
        return None if row is None else _part(row.made_of, name)

    @property
    def counted_as(self) -> str:
        """What the parts of which nothing is known were taken to be."""
        usual = stand_in(self.kind)
        if usual.kind is LiquidKind.WATER and "water" not in self.unknown:
            return "none"
        return usual.name


def _part(made_of: Composition, name: str) -> Bounds:
    return {"water": made_of.water, "fat": made_of.fat, "sugar": Bounds.exactly(made_of.sugar)}[name]


def _fat_saponification(line: LineEntry, facts: MaterialFacts | None, kind: LiquidKind) -> Bounds | None:
    if facts is not None and facts.saponification_low is not None:
        return own_range(float(facts.saponification_low), float(facts.saponification_high))
    row = liquid_kinds().get(line.key)
    if row is not None and row.made_of.fat_saponification is not None:
        return row.made_of.fat_saponification
    return milk_fat_values(kind)
