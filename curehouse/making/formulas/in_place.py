"""What was dissolved beforehand in the place of dry lye: how much of which lot, and how much water comes with it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal

from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.alkali import Alkali, certified
from curehouse.core.chemistry.dissolved import in_place_of
from curehouse.core.chemistry.lye import LyeAmount
from curehouse.core.chemistry.solubility import WARM_C, water_needed_g
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.entries import GoesIn, Role
from curehouse.making.formulas.solutions import Dissolved, dissolved_of
from curehouse.workshops.models import Workshop
from inventory.models import Lot, MakingTake, Material


@dataclass(frozen=True, slots=True)
class InPlace:
    """So many grams of a lot stand for the dry lye of a formula; with them come grams of dry lye and of water.

    ``why_not`` says why it is not to be weighed for this one.
    """

    lot: Lot
    alkali: Alkali
    weigh_g: float
    lye_g: float
    water_g: float
    why_not: str = ""


def front_water_g(one: Planned) -> Decimal:
    """Return the grams of plain water that go in front, with the lye."""
    pairs = zip(one.entry.lines, one.masses_g, strict=True)
    liquids = ((line, grams) for line, grams in pairs if line.role == Role.LIQUID and line.goes_in == GoesIn.FRONT)
    return sum((grams for line, grams in liquids if line.key == "water"), Decimal(0))


def in_place_of_lye(workshop: Workshop, one: Planned, lye: Sequence[LyeAmount], *, on: date) -> list[InPlace]:
    """Return the solutions, in order on that day, that stand for the *lye* of a formula, first expired first.

    Never more alkali than the dry lye brings, at the worst of both; four queries at most, one where none is here.
    """
    dry = {Alkali.NAOH: one.entry.naoh_from, Alkali.KOH: one.entry.koh_from}
    amounts = {amount.alkali: amount for amount in lye if dry[amount.alkali] is not None and amount.weigh_g > 0}
    if not amounts:
        return []
    takes = MakingTake.objects.within(workshop).filter(movement__lot__material__in=[dry[alkali] for alkali in amounts])
    made = takes.order_by().values("making__lot")
    lots = Lot.objects.within(workshop).filter(material__kind=Material.Kind.LYE, pk__in=made).usable(on=on)
    known = dissolved_of(workshop, rows := list(lots.first_expired_first().named()))
    room_g = _room_g(one, lye)
    found = [_in_place(one, known.get(lot.pk), dry, amounts, room_g) for lot in rows]
    # What may be weighed stands first, or it would lie behind what may not.
    return sorted((one for one in found if one is not None), key=lambda one: bool(one.why_not))


def _room_g(one: Planned, lye: Sequence[LyeAmount]) -> dict[Alkali, float]:
    """Return of each lye the grams of water in front that may come with it: as much of all as it is of the lye."""
    whole_g = sum(amount.weigh_g for amount in lye)
    front_g = float(front_water_g(one))
    return {amount.alkali: front_g * amount.weigh_g / whole_g for amount in lye if amount.weigh_g > 0}


def dissolved_with_g(one: Planned, lye: Sequence[LyeAmount]) -> dict[Material, Decimal]:
    """Return of each material of the *lye* the grams of water that may come with it where a run is promised it dissolved.

    None may where a weighing sheet could refuse it: in front it is so cold that it sets, the formula types a purity, which
    may be another than that of what was dissolved, or one material stands for both alkalis.
    """
    of = {Alkali.NAOH: (one.entry.naoh_from, one.entry.naoh_purity), Alkali.KOH: (one.entry.koh_from, one.entry.koh_purity)}
    is_for_it = one.formula.front_c >= WARM_C and one.entry.naoh_from != one.entry.koh_from
    found: dict[Material, Decimal] = {}
    for alkali, room_g in _room_g(one, lye).items():
        material, typed = of[alkali]
        if material is not None and is_for_it and typed is None:
            found[material] = Decimal(str(room_g)).quantize(SMALLEST_G, rounding=ROUND_FLOOR)
    return found


def _in_place(
    one: Planned,
    of: Dissolved | None,
    dry: Mapping[Alkali, Material | None],
    amounts: Mapping[Alkali, LyeAmount],
    room_g: Mapping[Alkali, float],
) -> InPlace | None:
    """Return what stands for the lye that is in a lot; None where nobody knows what is in it, or of how strong a lye."""
    alkali = None if of is None else next((each for each in amounts if dry[each] == of.solution.dry), None)
    if of is None or alkali is None:
        return None
    own = one.entry.naoh_purity if alkali is Alkali.NAOH else one.entry.koh_purity
    scales, typed = one.formula.scales, None if own is None else certified(float(own))
    # On which scale it was made is not kept: the coarsest of the bench may have been it.
    strong = of.strong(alkali, step_g=scales.step_g, typed=typed)
    if strong is None:
        return None
    weigh_g = in_place_of(amounts[alkali], strong, step_g=scales.fine_step_g)
    lye_g = weigh_g * float(of.solution.share)
    why_not = ""
    if of.is_thin(alkali, step_g=scales.step_g, typed=typed):
        why_not = "it is so thin that water may have dried out of it unseen: weigh dry lye"
    elif of.doubted(alkali, step_g=scales.step_g, typed=typed) is not None:
        why_not = "how strong it is, is doubtful: look at its figures"
    elif _may_set(alkali, pure_g=weigh_g * strong.middle, water_g=weigh_g - lye_g, front_c=one.formula.front_c):
        why_not = "so cold it may set: it is to be clear, and 20 °C or warmer"
    elif weigh_g - lye_g > room_g[alkali]:
        why_not = "it brings more water than goes in front"
    elif float(of.solution.lot.on_hand) < weigh_g or weigh_g <= 0:
        why_not = "there is not enough of it"
    return InPlace(of.solution.lot, alkali, weigh_g, lye_g, weigh_g - lye_g, why_not)


def _may_set(alkali: Alkali, *, pure_g: float, water_g: float, front_c: float) -> bool:
    needed_g = water_needed_g({alkali: pure_g}, front_c)
    return front_c < WARM_C and (needed_g is None or needed_g > water_g)
