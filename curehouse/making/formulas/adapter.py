"""A formula's lines as the core wants them: masses as floats, ranges as bounds, certificates where there are some.

What a line says itself comes first, then the certificate of the lot that would be taken, then the
workshop's own figures of the material, then the catalogue.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry import formula as core
from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.alkali import Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.fats import Fat
from curehouse.core.chemistry.liquids import Composition, Liquid, LiquidKind, Place
from curehouse.core.chemistry.scale import Scales
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, Role
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.masses import line_masses_g
from curehouse.making.liquids import liquid_kinds
from curehouse.workshops.models import Scale

# Where the workshop has no scale: what a kitchen scale shows.
USUAL_STEP_G = Decimal(1)


@dataclass(frozen=True, slots=True)
class Planned:
    """A formula worked out as far as its input: the core's, with the lines it was made of and their grams.

    ``entry`` is that of cleaned lines; ``masses_g`` has one mass for each of them, in their order.
    """

    entry: FormulaEntry
    masses_g: tuple[Decimal, ...]
    formula: core.Formula
    known: Known

    @property
    def profiles(self) -> list[tuple[float, dict[str, float] | None]]:
        """The fats with their usual fatty acids, as `fatty_acids.grouped` takes them."""
        kinds = fat_kinds()
        pairs = zip(self.entry.lines, self.masses_g, strict=True)
        return [
            (float(mass_g), dict(kinds[line.key].fatty_acids) or None if line.key in kinds else None)
            for line, mass_g in pairs
            if line.role == Role.FAT
        ]


def sized(one: Planned, formula: core.Formula) -> Planned:
    """Return *one* in the size of *formula*, which was made of its own: every line has that one's mass.

    Lines are cleaned, so they stand in the order of the core's parts.
    """
    parts = (*formula.fats, *formula.liquids, *formula.acids, *formula.additives)
    masses_g = tuple(Decimal(str(part.mass_g)).quantize(SMALLEST_G) for part in parts)
    return replace(one, formula=formula, masses_g=masses_g)


def bench_steps_g(scales: Sequence[Scale]) -> tuple[Decimal, Decimal]:
    """Return the steps that count where a formula names no scale: the coarsest for fats, the finest for lye."""
    steps = [scale.step_g for scale in scales] or [USUAL_STEP_G]
    return max(steps), min(steps)


def planned(entry: FormulaEntry, known: Known, *, unit: str, scales: Sequence[Scale]) -> Planned:
    """Return *entry* (of cleaned lines) as the core takes it, or say what is wrong with it."""
    masses_g = tuple(line_masses_g(entry, unit=unit))
    pairs = list(zip(entry.lines, masses_g, strict=True))
    coarse_g, fine_g = bench_steps_g(scales)
    steps = Scales(
        step_g=float(entry.scale.step_g if entry.scale else coarse_g),
        fine_step_g=float(entry.fine_scale.step_g if entry.fine_scale else fine_g),
    )

    def of(*roles: str) -> list[tuple[LineEntry, float]]:
        return [(line, float(mass_g)) for line, mass_g in pairs if line.role in roles]

    formula = core.Formula(
        fats=tuple(_fat(line, mass_g, known) for line, mass_g in of(Role.FAT)),
        superfat=float(entry.superfat),
        lye=_lye(entry, known),
        scales=steps,
        front_c=float(entry.front_c),
        liquids=tuple(_liquid(line, mass_g, known) for line, mass_g in of(Role.LIQUID)),
        acids=tuple(_acid(line, mass_g) for line, mass_g in of(Role.ACID)),
        additives=tuple(_additive(line, mass_g, known) for line, mass_g in of(Role.ADDITIVE, Role.FRAGRANCE, Role.COLOUR)),
        allergens=tuple(sorted({said for line in entry.lines if (said := _allergen(line, known))})),
    )
    return Planned(entry, masses_g, formula, known)


def _fraction(percent: Decimal | None) -> Decimal | None:
    return None if percent is None else percent / 100


def _fat(line: LineEntry, mass_g: float, known: Known) -> Fat:
    published = _published(line, known)
    certificate = line.saponification if line.saponification is not None else known.figure(line.material, "saponification")
    if published is None and certificate is None:
        raise Invalid(
            "unknown_fat",
            f"How much lye {line.name} takes is not known: choose the fat of the list that it is, "
            "or type the saponification value from its certificate.",
            field="fats",
        )
    return Fat(line.name, mass_g, published, None if certificate is None else float(certificate), _listed(line))


def _published(line: LineEntry, known: Known) -> Bounds | None:
    facts = None if line.material is None else known.facts.get(line.material.pk)
    if facts is not None and facts.saponification_low is not None:
        return Bounds.between(float(facts.saponification_low), float(facts.saponification_high))
    return _listed(line)


def _listed(line: LineEntry) -> Bounds | None:
    kind = fat_kinds().get(line.key)
    return None if kind is None else kind.saponification


def _liquid(line: LineEntry, mass_g: float, known: Known) -> Liquid:
    kind = liquid_kinds().get(line.key)
    facts = None if line.material is None else known.facts.get(line.material.pk)
    table = kind.made_of if kind is not None else None
    lots_fat = _fraction(known.figure(line.material, "fat"))
    measured_fat = line.fat_fraction if line.fat_fraction is not None else lots_fat
    own_fat = measured_fat if measured_fat is not None or facts is None else facts.fat_fraction
    own_water = line.water_fraction
    if own_water is None:
        own_water = _fraction(known.figure(line.material, "water"))
    if own_water is None and facts is not None:
        own_water = facts.water_fraction
    if own_water is None and table is None:
        raise Invalid(
            "unknown_liquid",
            f"What {line.name} is made of is not known: choose the liquid of the list that it is, or type its water part.",
            field="liquids",
        )
    water = table.water if own_water is None else Bounds.exactly(float(own_water))
    fat = (ZERO if table is None else table.fat) if own_fat is None else Bounds.exactly(float(own_fat))
    saponification = _milk_saponification(line, table, known)
    if fat.high > 0 and saponification is None:
        raise Invalid(
            "unknown_fat", f"How much lye the fat of {line.name} takes is not known: leave its fat empty.", field="liquids"
        )
    sugar = 0.0 if table is None else table.sugar
    if water.middle + fat.middle + sugar > 1:
        raise Invalid(
            "fraction",
            f"{line.name}: its water ({water.middle:.1%}), fat ({fat.middle:.1%}) and sugar ({sugar:.1%}) "
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
        kind=LiquidKind.OTHER if kind is None else kind.kind,
        made_of=Composition(water, fat, sugar, saponification, fat_measured=measured_fat is not None),
        is_thickened=thickened,
    )


def _milk_saponification(line: LineEntry, table: Composition | None, known: Known) -> Bounds | None:
    facts = None if line.material is None else known.facts.get(line.material.pk)
    if facts is not None and facts.saponification_low is not None:
        return Bounds.between(float(facts.saponification_low), float(facts.saponification_high))
    return None if table is None else table.fat_saponification


def _acid(line: LineEntry, mass_g: float) -> Acid:
    strength = None if line.strength is None else float(line.strength)
    return Acid(line.key, mass_g, line.form or None, strength)


def _additive(line: LineEntry, mass_g: float, known: Known) -> core.Additive:
    facts = None if line.material is None else known.facts.get(line.material.pk)
    most = line.most_share
    if most is None and facts is not None:
        most = facts.most_share
    return core.Additive(line.name, mass_g, line.role == Role.FRAGRANCE, None if most is None else float(most))


def _allergen(line: LineEntry, known: Known) -> str:
    facts = None if line.material is None else known.facts.get(line.material.pk)
    if facts is not None and facts.allergen:
        return facts.allergen
    kind = {Role.FAT: fat_kinds(), Role.LIQUID: liquid_kinds()}.get(Role(line.role), {}).get(line.key)
    return "" if kind is None else kind.allergen


def _lye(entry: FormulaEntry, known: Known) -> tuple[LyePart, ...]:
    share = float(entry.naoh_share)
    parts = (
        (Alkali.NAOH, share, entry.naoh_purity, known.figure(entry.naoh_from, "purity")),
        (Alkali.KOH, 1 - share, entry.koh_purity, known.figure(entry.koh_from, "purity")),
    )
    return tuple(
        LyePart(alkali, part, None if (said := _purity(own, lots)) is None else certified(float(said)))
        for alkali, part, own, lots in parts
        if part > 0
    )


def _purity(own: Decimal | None, lots_percent: Decimal | None) -> Decimal | None:
    return own if own is not None else _fraction(lots_percent)
