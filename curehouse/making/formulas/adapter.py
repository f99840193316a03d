"""A formula's lines as the core wants them: masses as floats, ranges as bounds, certificates where there are some.

What a line says itself and the certificates of the lots that would be taken (`lots`) come first, and of
these whichever asks for less lye; then the workshop's own figures of the material, then the catalogue.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal

from curehouse.common.errors import Invalid
from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry import formula as core
from curehouse.core.chemistry.acids import Acid, acids_mol
from curehouse.core.chemistry.alkali import UNCERTIFIED_NAOH, Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import Fat, fats_mol, own_range
from curehouse.core.chemistry.scale import Scales
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.allergens import label_allergens
from curehouse.making.formulas.called import asides_of, misnamed_of
from curehouse.making.formulas.entries import FormulaEntry, LineEntry, Role
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.lots import Take, Taken, lacking_g, lye_taken, of_material, taken_by, wanted_of
from curehouse.making.formulas.masses import line_masses_g
from curehouse.making.formulas.names import perhaps
from curehouse.making.formulas.parts import liquid_of
from curehouse.workshops.models import Scale

# Where the workshop has no scale: what a kitchen scale shows.
USUAL_STEP_G = Decimal(1)


@dataclass(frozen=True, slots=True)
class Planned:
    """A formula worked out as far as its input: the core's, with the lines it was made of and their grams.

    ``entry`` is that of cleaned lines; ``masses_g`` has one mass for each of them, in their order.
    ``taken`` are the lots whose figures count, with what would be taken of each.
    """

    entry: FormulaEntry
    masses_g: tuple[Decimal, ...]
    formula: core.Formula
    known: Known
    taken: Taken

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

    Lines are cleaned, so they stand in the order of the core's parts. What it takes of the storeroom is
    found anew: a larger batch may need another lot.
    """
    parts = (*formula.fats, *formula.liquids, *formula.acids, *formula.additives)
    masses_g = tuple(_kept_g(part.mass_g, asks_for_lye=isinstance(part, Fat | Acid)) for part in parts)
    return _made(one.entry, masses_g, one.known, formula.scales)


def _kept_g(mass_g: float, *, asks_for_lye: bool) -> Decimal:
    """Return a mass to the milligram: of what lye is worked out from down, so that whole steps of an ounce ask for no more."""
    # Nine places first: 700 is not to become 699.999 for the last bit of a float.
    exact = Decimal(str(mass_g)).quantize(Decimal("1e-9"))
    return max(SMALLEST_G, exact.quantize(SMALLEST_G, rounding=ROUND_DOWN if asks_for_lye else ROUND_HALF_EVEN))


def bench_steps_g(scales: Sequence[Scale]) -> tuple[Decimal, Decimal]:
    """Return the steps that count where a formula names no scale: the coarsest for fats, the finest for lye."""
    steps = [scale.step_g for scale in scales] or [USUAL_STEP_G]
    return max(steps), min(steps)


def planned(entry: FormulaEntry, known: Known, *, unit: str, scales: Sequence[Scale]) -> Planned:
    """Return *entry* (of cleaned lines) as the core takes it, or say what is wrong with it."""
    masses_g = tuple(line_masses_g(entry, known, unit=unit))
    coarse_g, fine_g = bench_steps_g(scales)
    steps = Scales(
        step_g=float(entry.scale.step_g if entry.scale else coarse_g),
        fine_step_g=float(entry.fine_scale.step_g if entry.fine_scale else fine_g),
    )
    return _made(entry, masses_g, known, steps)


def _made(entry: FormulaEntry, masses_g: tuple[Decimal, ...], known: Known, scales: Scales) -> Planned:
    pairs = list(zip(entry.lines, masses_g, strict=True))
    wanted = wanted_of(entry.lines, masses_g)
    taken = taken_by(wanted, known)

    def of(*roles: str) -> list[tuple[LineEntry, float]]:
        return [(line, float(mass_g)) for line, mass_g in pairs if line.role in roles]

    def fat(line: LineEntry, mass_g: float) -> Fat:
        found = of_material(taken, line.material)
        is_short = line.material is not None and lacking_g(found, wanted[line.material.pk]) > 0
        return _fat(line, mass_g, known, found, is_short=is_short)

    fats = tuple(fat(line, mass_g) for line, mass_g in of(Role.FAT))
    acids = tuple(_acid(line, mass_g) for line, mass_g in of(Role.ACID))
    lye_mol = fats_mol(fats).middle * (1 - float(entry.superfat)) + acids_mol(acids).middle
    lye, lye_takes = _lye(entry, known, lye_mol)
    formula = core.Formula(
        fats=fats,
        superfat=float(entry.superfat),
        lye=lye,
        scales=scales,
        front_c=float(entry.front_c),
        liquids=tuple(liquid_of(line, mass_g, known, of_material(taken, line.material)) for line, mass_g in of(Role.LIQUID)),
        acids=acids,
        additives=tuple(_additive(line, mass_g, known) for line, mass_g in of(Role.ADDITIVE, Role.FRAGRANCE, Role.COLOUR)),
        allergens=label_allergens(entry.lines, known),
        misnamed=tuple(misnamed_of(entry.lines)),
        asides=tuple(asides_of(list(zip(entry.lines, masses_g, strict=True)))),
    )
    return Planned(entry, masses_g, formula, known, taken | lye_takes)


def _fat(line: LineEntry, mass_g: float, known: Known, found: Sequence[Take], *, is_short: bool) -> Fat:
    published, listed, typed = _published(line, known), _listed(line), line.saponification
    said = [take.figure("saponification") for take in found]
    certified = sorted(float(value) for value in (typed, *said) if value is not None)
    is_uncertain = typed is None and None in said
    # What no lot holds yet is of a lot that nobody has seen: of a fat in no list nothing is known of it.
    is_open = is_uncertain or (typed is None and is_short)
    if published is None and (not certified or is_open):
        which = f" of {found[said.index(None)].of.lot}" if is_uncertain else " of what its lots do not hold"
        raise Invalid(
            "unknown_fat",
            f"How much lye {line.name} takes is not known{which if certified else ''}: "
            f"choose the fat of the list that it is{perhaps(line.name, fat_kinds())}, "
            "or type the saponification value from its certificate.",
            field="fats",
        )
    if not certified:
        return Fat(line.name, mass_g, published, None, listed)
    return Fat(line.name, mass_g, published, certified[0], listed, certified[-1], is_open)


def _published(line: LineEntry, known: Known) -> Bounds | None:
    facts = None if line.material is None else known.facts.get(line.material.pk)
    if facts is not None and facts.saponification_low is not None:
        return own_range(float(facts.saponification_low), float(facts.saponification_high))
    return _listed(line)


def _listed(line: LineEntry) -> Bounds | None:
    kind = fat_kinds().get(line.key)
    return None if kind is None else kind.saponification


def _acid(line: LineEntry, mass_g: float) -> Acid:
    strength = None if line.strength is None else float(line.strength)
    return Acid(line.key, mass_g, line.form or None, strength)


def _additive(line: LineEntry, mass_g: float, known: Known) -> core.Additive:
    facts = None if line.material is None else known.facts.get(line.material.pk)
    most = line.most_share
    if most is None and facts is not None:
        most = facts.most_share
    return core.Additive(line.name, mass_g, line.role == Role.FRAGRANCE, None if most is None else float(most))


def _lye(entry: FormulaEntry, known: Known, lye_mol: float) -> tuple[tuple[LyePart, ...], Taken]:
    """Return the lye with what counts as its purity for so many mol of it, and what it would take of the storeroom."""
    share = float(entry.naoh_share)
    parts, taken = [], {}
    for alkali, part, own, material in (
        (Alkali.NAOH, share, entry.naoh_purity, entry.naoh_from),
        (Alkali.KOH, 1 - share, entry.koh_purity, entry.koh_from),
    ):
        if part <= 0:
            continue
        lots = known.lots.get(material.pk, ()) if material is not None else ()
        pure_g = lye_mol * part * alkali.g_per_mol
        found, purity = lye_taken(alkali, lots, pure_g, None if own is None else certified(float(own)))
        if own is None and purity is not None and _is_open(found, pure_g / purity.middle):
            # Counted as pure: it is said that no certificate is at hand.
            purity = None if purity.low >= UNCERTIFIED_NAOH.low else purity
        parts.append(LyePart(alkali, part, purity))
        if material is not None:
            taken[material.pk] = found
    return tuple(parts), taken


def _is_open(found: Sequence[Take], weigh_g: float) -> bool:
    """Return whether some of so much lye is of a lot without a certificate, or of none that is here."""
    return any(take.figure("purity") is None for take in found) or lacking_g(found, Decimal(str(weigh_g))) > 0
