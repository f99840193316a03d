"""What stands beside a weight of what was made beforehand: lye that is dissolved, and mixes of which there is not enough."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from curehouse.core.chemistry.lye import LyeAmount
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.entries import GoesIn, LineEntry
from curehouse.making.formulas.in_place import InPlace, front_water_g, in_place_of_lye
from curehouse.making.formulas.lots import lacking_g, of_material, wanted_of
from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.pour import lye_figure, lye_grams
from curehouse.web.reading.weights import weight
from inventory.blends import Recipe, recipes_of

_A_TENTH, _A_HUNDREDTH = Decimal("0.1"), Decimal("0.01")


@dataclass(frozen=True, slots=True)
class MadeBefore:
    """What was made beforehand for a formula, and how its mixes are made."""

    lye: Sequence[InPlace]
    recipes: Mapping[int, Recipe]


def made_before(visit: Visit, one: Planned, lye: Sequence[LyeAmount]) -> MadeBefore:
    """Read it: of *lye* that may be weighed out what is dissolved; a constant number of queries."""
    today = Calendar(visit.workshop, visit.at).today
    return MadeBefore(in_place_of_lye(visit.workshop, one, lye, on=today), recipes_of(visit.workshop))


def lye_weight(grams: float, unit: str) -> str:
    """Return what to weigh of lye, as ``118.6 g``: cut off behind the last figure, never rounded up."""
    figure = lye_figure(lye_grams(grams), unit)
    # With a tenth, as the other weights stand.
    return f"{figure if '.' in figure else f'{figure}.0'} {unit}"


def dissolved_note(found: InPlace) -> str:
    """Return what stands beside its weight: that it is not for this formula and why, or that it goes in the lye's place."""
    return f"not for this one: {found.why_not}" if found.why_not else "in place of the dry lye, never beside it"


def made_note(before: MadeBefore, one: Planned, line: LineEntry, mass_g: Decimal, unit: str) -> str:
    """Return what stands beside a weight because of what was made beforehand; nothing where none of that concerns it."""
    return mix_note(line, one, before.recipes, unit) or water_note(before, one, line, mass_g, unit)


def water_note(before: MadeBefore, one: Planned, line: LineEntry, mass_g: Decimal, unit: str) -> str:
    """Return what stands beside the water in front: that with lye that is dissolved less of it is weighed."""
    brought = [found for found in before.lye if not found.why_not]
    if not brought or line.key != "water" or line.goes_in != GoesIn.FRONT:
        return ""
    if len(brought) > 1 or mass_g != front_water_g(one):
        return "with the dry lye; less with lye that is dissolved, which brings water: how much stands below"
    (found,) = brought
    return f"with the dry lye; with {found.lot} only {weight(mass_g - _water_of(found), unit)}, for it brings the rest"


def _water_of(found: InPlace) -> Decimal:
    return Decimal(str(found.water_g)).quantize(_A_TENTH)


def dissolved_said(before: MadeBefore, one: Planned, unit: str) -> list[str]:
    """Say of each lye that is dissolved and stands for the dry one what comes with it, and how it is told at the pour."""
    front_g = front_water_g(one)
    said = []
    for found in before.lye:
        if found.why_not:
            continue
        water_g = _water_of(found)
        less = f"weigh only {weight(front_g - water_g, unit)} of water in front, not {weight(front_g, unit)}"
        if len(one.formula.lye) > 1:
            # Of two lyes both may come dissolved.
            less = "weigh as much less water in front"
        lye_g = lye_weight(float(Decimal(str(found.lye_g)).quantize(_A_TENTH, rounding=ROUND_DOWN)), unit)
        said.append(
            f"If you take {found.lot} in place of the dry lye: {weight(water_g, unit)} of water come with it, so {less}. It is "
            f"clear, stirred, and 20 °C or warmer. At the pour say {lye_g} of lye, which is what is in it, and the water of "
            "the formula, and book this lot: the batch is then reckoned by it."
        )
    return said


def mix_note(line: LineEntry, one: Planned, recipes: Mapping[int, Recipe], unit: str) -> str:
    """Say of a mix of which there is not enough what the rest of it is made of; nothing where there is enough."""
    recipe = None if line.material is None else recipes.get(line.material.pk)
    if recipe is None or line.material is None:
        return ""
    found = of_material(one.taken, line.material)
    wanted_g = wanted_of(one.entry.lines, one.masses_g)[line.material.pk]
    rest_g = lacking_g(found, wanted_g) if found else wanted_g
    if not rest_g:
        return "mixed beforehand"
    parts = ", ".join(
        f"{weight((rest_g * share).quantize(_A_HUNDREDTH), unit)} of {part.name}" for part, share in recipe.shares
    )
    whole = "mixed beforehand, and none of it is here" if not found else f"{weight(rest_g, unit)} of it are to be mixed"
    return f"{whole}: {parts}"
