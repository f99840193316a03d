"""From which lots a formula would take its materials, first expired first out, and which figures count for them.

Where an amount takes several lots one figure stands for them all, and it is the one that asks for the
least lye: of lye the purest, of a fat the lowest saponification value. The ends hold every one of them.
What is typed into the formula is one figure more, and counts alone for what has none; what is wanted
beyond all lots is of a lot that nobody has seen yet.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.alkali import UNCERTIFIED_NAOH, Alkali, certified, purest_of
from curehouse.core.chemistry.bounds import Bounds
from curehouse.making.formulas.entries import LineEntry
from curehouse.making.formulas.known import Known, LotKnown
from inventory.models import Material


@dataclass(frozen=True, slots=True)
class Take:
    """What would be taken of a lot, in grams."""

    of: LotKnown
    mass_g: Decimal

    def figure(self, name: str) -> Decimal | None:
        """Return a figure of the lot's certificate, as on the paper, or None."""
        return self.of.figures.get(name)


# By the keys of materials.
Taken = Mapping[int, tuple[Take, ...]]


def takes(lots: Sequence[LotKnown], mass_g: Decimal) -> tuple[Take, ...]:
    """Return from which of *lots* (first expired first) so many grams are taken; what no lot holds is left out."""
    found, left = [], mass_g
    for lot in lots:
        if left <= 0:
            break
        found.append(Take(lot, min(left, lot.lot.on_hand)))
        left -= lot.lot.on_hand
    return tuple(found)


def lacking_g(found: Sequence[Take], wanted_g: Decimal) -> Decimal:
    """Return the grams that are wanted beyond what is taken of all lots, 0 where they hold enough or there are none."""
    lacking = wanted_g - sum((take.mass_g for take in found), Decimal(0))
    return lacking if found and lacking > SMALLEST_G else Decimal(0)


def wanted_of(lines: Sequence[LineEntry], masses_g: Sequence[Decimal]) -> dict[int, Decimal]:
    """Return how many grams of each material, by its key, the lines of a formula take together."""
    wanted: dict[int, Decimal] = {}
    for line, mass_g in zip(lines, masses_g, strict=True):
        if line.material is not None:
            wanted[line.material.pk] = wanted.get(line.material.pk, Decimal(0)) + mass_g
    return wanted


def taken_by(wanted: Mapping[int, Decimal], known: Known) -> dict[int, tuple[Take, ...]]:
    """Return what is taken of each material for so many grams of it (`wanted_of`)."""
    return {pk: takes(known.lots[pk], mass_g) for pk, mass_g in wanted.items() if pk in known.lots}


def of_material(taken: Taken, material: Material | None) -> tuple[Take, ...]:
    """Return what is taken of *material*; nothing where no lot of it may be planned with."""
    return () if material is None else taken.get(material.pk, ())


def purity_of(alkali: Alkali, lot: LotKnown | None = None, typed: Bounds | None = None) -> Bounds | None:
    """Return the purity (0-1) of a lye lot, or of one that is not here yet.

    Without a certificate it is as *typed* into the formula; without that too NaOH counts as pure, and of KOH
    nothing is known.
    """
    percent = None if lot is None else lot.figures.get("purity")
    if percent is not None:
        return certified(float(percent / 100))
    return UNCERTIFIED_NAOH if typed is None and alkali is Alkali.NAOH else typed


def lye_taken(
    alkali: Alkali, lots: Sequence[LotKnown], pure_g: float, typed: Bounds | None = None
) -> tuple[tuple[Take, ...], Bounds | None]:
    """Return from which of *lots* so many grams of the pure alkali are taken, and the purity (0-1) that counts for it.

    The more lots there are the purer it may be, and the less is weighed: so the first that hold enough
    are enough. What is *typed* never counts over a lot that says it is purer. No purity where none is
    known of a lot that is needed, and none without lots where none is typed.
    """
    here, on_hand_g, weigh_g = [], Decimal(0), Decimal(0)
    purities: list[Bounds] = [] if typed is None else [typed]
    for lot in lots:
        purity = purity_of(alkali, lot, typed)
        here.append(lot)
        if purity is None:
            return takes(here, lot.lot.on_hand + on_hand_g), None
        purities.append(purity)
        on_hand_g += lot.lot.on_hand
        weigh_g = Decimal(str(pure_g / purest_of(purities).middle))
        if on_hand_g >= weigh_g:
            break
    if here and on_hand_g < weigh_g:
        if (purity := purity_of(alkali, typed=typed)) is None:
            return takes(here, weigh_g), None
        purities.append(purity)
        weigh_g = Decimal(str(pure_g / purest_of(purities).middle))
    return takes(here, weigh_g), purest_of(purities) if purities else None


def weighted(found: Sequence[Take], name: str, other: Bounds | None) -> Bounds | None:
    """Return a share (0-1) that the certificates of *found* say in per cent, at its mean by mass.

    *other* counts for lots that do not say it; None where it is needed and not there, and where no lot says it.
    """
    said = [(take.figure(name), take.mass_g) for take in found]
    if not said or all(figure is None for figure, _mass in said):
        return None
    bounds = [(other if figure is None else Bounds.exactly(float(figure / 100)), float(mass)) for figure, mass in said]
    whole_g = sum(mass for _one, mass in bounds)
    parts = [(one, mass) for one, mass in bounds if one is not None]
    if len(parts) < len(bounds) or not whole_g:
        return None
    mean = sum(one.middle * mass for one, mass in parts) / whole_g
    low, high = min(one.low for one, _mass in parts), max(one.high for one, _mass in parts)
    return Bounds(low, min(max(mean, low), high), high)
