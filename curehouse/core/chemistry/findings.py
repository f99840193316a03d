"""What is wrong, doubtful or worth knowing about a formula: codes with their figures.

The words to each code stand in `words`.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from .acids import Acid, acids_mol
from .alkali import NAOH_G_PER_MOL
from .bounds import Bounds
from .fats import Fat, fats_g, fats_mol
from .finding import Figure, Finding, Level
from .formula import Additive, Figures, Formula, setting_for_effective, work_out
from .liquids import LEAST_NOTICED_MILK, Liquid, LiquidKind, Place, liquid_g, sugar_g
from .lye import LyeAmount, PurityMissing
from .solubility import WARM_C, dissolves, water_needed_g

# Common practice, no source.
LEAST_LIQUID, MOST_LIQUID = 0.28, 0.38
MILK_FRONT_WATER_PER_LYE = 1.5
SOFT_SUPERFAT = 0.08
# Of all lye; 3 % of the fats as citric acid eat 13 % of it, and vinegar for all of the liquid 8 %.
MUCH_ACID = 0.2
MILK_LYE_C, MILK_LYE_MOST_C, MILK_FATS_C = (24.0, 27.0), 30.0, (38.0, 41.0)
# Sugar that heats: as a share of a liquid (milks hold 4 to 5 %, USDA SR), or of the fats, by whatever it comes.
_SWEET_LIQUID, _SWEET_BATCH = 0.02, 0.005
# A share that is a bound to the maker is not always one to a float.
_NOISE = 1e-9


@dataclass(frozen=True, slots=True)
class Judged:
    """A formula's figures, None where none can be worked out, and its findings, gravest first."""

    figures: Figures | None
    findings: tuple[Finding, ...]

    @property
    def is_refused(self) -> bool:
        """It must not be poured."""
        return any(finding.level is Level.REFUSAL for finding in self.findings)

    @property
    def needs_confirming(self) -> bool:
        """A person must confirm it first."""
        return any(finding.needs_confirming for finding in self.findings)

    @property
    def needs_check(self) -> bool:
        """The alkalinity check is a condition of its release."""
        return any(finding.needs_check for finding in self.findings)


def judge(formula: Formula, weighed_lye: tuple[LyeAmount, ...] | None = None) -> Judged:
    """Return the figures and findings of *formula*; with *weighed_lye* (`lye.given`) those of the lye that went in.

    Raises
    ------
    ValueError
        If the fats are less than the scale can tell from nothing.
    """
    try:
        figures = work_out(formula, weighed_lye)
    except PurityMissing:
        return Judged(None, (Finding(Level.REFUSAL, "koh_purity_missing"), *_ordered(_about_lines(formula, None))))
    found = (*_about_lye(formula, figures), *_about_liquid(formula, figures), *_about_lines(formula, figures))
    return Judged(figures, _ordered((*found, *_about_fragrance(formula.additives, figures))))


def _ordered(findings: Iterator[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: list(Level).index(finding.level)))


def _up(mass_g: float, step_g: float = 0.1) -> float:
    """Round a least amount up, so that who keeps to the figure shown keeps the bound."""
    return round(math.ceil(mass_g / step_g - _NOISE) * step_g, 1)


def _down(mass_g: float) -> float:
    """Round a most amount down to a tenth of a gram, for the same reason."""
    return round(math.floor(mass_g * 10 + _NOISE) / 10, 1)


def _about_lye(formula: Formula, figures: Figures) -> Iterator[Finding]:
    of_fats, effective = figures.superfat.of_fats, figures.superfat.effective
    ends: dict[str, Figure] = {"low_share": of_fats.low, "middle_share": of_fats.middle, "high_share": of_fats.high}
    for amount in figures.lye:
        if amount.purity.middle < amount.alkali.least_plausible_purity:
            yield Finding(
                Level.REFUSAL, "purity_implausible", {"alkali": amount.alkali.value, "purity_share": amount.purity.middle}
            )
        elif amount.purity.middle < amount.alkali.lowest_purity_on_sale - _NOISE:
            # A slip of the pen here weighs out too much lye, and no figure of the formula would show it.
            weak: dict[str, Figure] = {"alkali": amount.alkali.value, "purity_share": amount.purity.middle}
            yield Finding(Level.WARNING, "purity_low", weak, needs_confirming=True, needs_check=True)
        if amount.weigh_g == 0 < amount.exact_g:
            step: dict[str, Figure] = {"lye_g": amount.exact_g, "step_g": formula.scales.fine_step_g}
            yield Finding(Level.REFUSAL, "lye_under_a_step", step)
    smallest = figures.smallest
    if of_fats.middle < -_NOISE:
        yield Finding(Level.REFUSAL, "superfat_below_zero", ends)
    elif of_fats.low < -_NOISE and smallest.safe_fats_g is not None and figures.fats_g < smallest.safe_fats_g:
        more: dict[str, Figure] = {**ends, "fats_g": figures.fats_g, "safe_fats_g": _up(smallest.safe_fats_g, 1.0)}
        yield Finding(Level.WARNING, "batch_too_small", more, needs_confirming=True, needs_check=True)
    elif of_fats.low < -_NOISE:
        yield Finding(Level.WARNING, "may_be_caustic", ends, needs_confirming=True, needs_check=True)
    elif figures.fats_g < smallest.steady_fats_g * (1 - _NOISE):
        yield Finding(Level.NOTE, "scale_coarse", {"fats_g": figures.fats_g, "steady_fats_g": _up(smallest.steady_fats_g, 1.0)})
    if effective.high >= SOFT_SUPERFAT - _NOISE:
        soft: dict[str, Figure] = {"middle_share": effective.middle, "high_share": effective.high}
        is_middle = effective.middle >= SOFT_SUPERFAT - _NOISE
        # Who may be told of lye that burns is not told to leave out less of it.
        code = "may_stay_soft_or_burn" if of_fats.low < -_NOISE else "may_stay_soft"
        yield Finding(Level.WARNING if is_middle else Level.NOTE, code, soft)
    if any(part.purity is None for part in formula.lye):
        yield Finding(Level.NOTE, "naoh_counted_pure")


def _about_liquid(formula: Formula, figures: Figures) -> Iterator[Finding]:
    yield from _about_front(formula, figures)
    share = figures.liquid_share
    if not LEAST_LIQUID - _NOISE <= share <= MOST_LIQUID + _NOISE:
        yield _liquid_off(figures)
    if 0 < figures.milk_share < LEAST_NOTICED_MILK - _NOISE:
        wanted: dict[str, Figure] = {"milk_share": figures.milk_share, "from_g": _up(LEAST_NOTICED_MILK * figures.liquid_g)}
        yield Finding(Level.NOTE, "milk_hardly_noticed", wanted)
    brings_fat = [one for one in formula.liquids if one.made_of.fat.high > 0]
    if any(one.kind in (LiquidKind.MILK, LiquidKind.OTHER) and not one.made_of.fat_measured for one in brings_fat):
        usual = setting_for_effective(formula, 0.05)
        milk: dict[str, Figure] = {
            "effective_share": figures.superfat.effective.middle,
            "low_share": figures.superfat.effective.low,
            "high_share": figures.superfat.effective.high,
            "setting_share": usual,
        }
        yield Finding(Level.NOTE, "milk_fat_from_table", milk)
    yield from _about_sugar(formula, figures)


def _liquid_off(figures: Figures) -> Finding:
    """Return the finding about too little or too much liquid; the water that acids bring is part of it."""
    brought_g = figures.acids_water_g
    known: dict[str, Figure] = {
        "liquid_share": figures.liquid_share,
        "least_g": _up(LEAST_LIQUID * figures.fats_g - brought_g),
        "most_g": max(0.0, _down(MOST_LIQUID * figures.fats_g - brought_g)),
        "water_share": figures.water_share.middle,
    }
    if figures.liquid_share < LEAST_LIQUID:
        return Finding(Level.WARNING, "liquid_low", known)
    if brought_g > 0:
        return Finding(Level.WARNING, "liquid_high_with_acids", {**known, "brought_g": brought_g})
    return Finding(Level.WARNING, "liquid_high", known)


def _about_sugar(formula: Formula, figures: Figures) -> Iterator[Finding]:
    """Sugar with the lye in front is held cold in another way than sugar that comes to cooled lye at trace."""
    low, high = MILK_LYE_C
    fats_low, fats_high = MILK_FATS_C
    cold: dict[str, Figure] = {"lye_low_c": low, "lye_high_c": high, "fats_low_c": fats_low, "fats_high_c": fats_high}
    is_sweet_in_all = sugar_g(formula.liquids) >= _SWEET_BATCH * figures.fats_g
    for place, code in ((Place.FRONT, "sugar_heats_front"), (Place.TRACE, "sugar_heats_trace")):
        here = [one for one in formula.liquids if one.place is place]
        brought_g = sugar_g(here)
        if any(_is_sweet(one) for one in here) or (is_sweet_in_all and brought_g > 0):
            most: dict[str, Figure] = {"lye_most_c": MILK_LYE_MOST_C} if place is Place.FRONT else {}
            yield Finding(Level.NOTE, code, {**cold, **most, "sugar_g": brought_g})


def _is_sweet(liquid: Liquid) -> bool:
    return liquid.kind is LiquidKind.MILK or liquid.made_of.sugar >= _SWEET_LIQUID


def too_little_water(*, water_g: float, needed_g: float | None, lye_g: float, front_c: float) -> Finding | None:
    """Return the refusal where *lye_g* grams of lye cannot all dissolve in the water in front, None where they can.

    *needed_g* is the water that they need (`solubility.water_needed_g`), *front_c* how warm the front is.
    """
    if dissolves(needed_g, water_g):
        return None
    known: dict[str, Figure] = {"water_g": water_g, "lye_g": lye_g, "front_c": front_c, "warm_c": WARM_C}
    if needed_g is None:
        return Finding(Level.REFUSAL, "koh_front_cold", known)
    code = "lye_over_solubility" if front_c >= WARM_C else "lye_over_cold_solubility"
    return Finding(Level.REFUSAL, code, {**known, "needed_g": _up(needed_g)})


def _about_front(formula: Formula, figures: Figures) -> Iterator[Finding]:
    water_g, needed_g, lye_g = figures.front_water_g, figures.dissolving_water_g, figures.lye_g
    known: dict[str, Figure] = {"water_g": water_g, "lye_g": lye_g, "front_c": formula.front_c}
    is_milk = any(one.place is Place.FRONT and (one.is_milk or one.kind is LiquidKind.POWDER) for one in formula.liquids)
    refused = too_little_water(water_g=water_g, needed_g=needed_g, lye_g=lye_g, front_c=formula.front_c)
    if refused is not None:
        yield refused
    elif water_g < lye_g * (1 - _NOISE):
        yield Finding(Level.WARNING, "front_under_lye", known)
    elif is_milk and water_g < MILK_FRONT_WATER_PER_LYE * lye_g * (1 - _NOISE):
        most: dict[str, Figure] = {
            **known,
            "wanted_g": _up(MILK_FRONT_WATER_PER_LYE * lye_g),
            "times": MILK_FRONT_WATER_PER_LYE,
        }
        yield Finding(Level.WARNING, "milk_front_under_lye", most)
    if is_milk:
        yield Finding(Level.NOTE, "milk_front_opaque")
        if formula.front_c >= WARM_C:
            yield from _about_cold_milk(figures)


def _about_cold_milk(figures: Figures) -> Iterator[Finding]:
    """Milk takes its lye frozen, whatever it has later: until it is warm, its water dissolves as much as cold water does."""
    lye_g, water_g = figures.lye_g, figures.front_water_g
    needed_g = water_needed_g({amount.alkali: amount.pure_g for amount in figures.lye}, 0.0)
    known: dict[str, Figure] = {"water_g": water_g, "lye_g": lye_g, "warm_c": WARM_C}
    if needed_g is None:
        yield Finding(Level.WARNING, "milk_front_cold_koh", known)
    elif water_g < needed_g * (1 - _NOISE):
        cold: dict[str, Figure] = {"dissolved_g": _down(lye_g * water_g / needed_g), "needed_g": _up(needed_g)}
        yield Finding(Level.WARNING, "milk_front_cold", {**known, **cold})


def _by_published(formula: Formula, figures: Figures | None, fat: Fat, listed: Bounds) -> dict[str, Figure]:
    """Return the superfat of the same lye if *fat* lies in the range that is *listed* (mg KOH per g) after all."""
    if figures is None:
        return {}
    usual = replace(fat, published=listed, listed=None, certificate=None, certificate_most=None)
    same = replace(formula, fats=tuple(usual if one is fat else one for one in formula.fats))
    found = work_out(same, figures.lye).superfat.of_fats
    return {"listed_low_share": found.low, "listed_middle_share": found.middle}


def _about_fat(formula: Formula, figures: Figures | None, fat: Fat) -> Iterator[Finding]:
    """A value outside of what is published is asked about; what no lot of a fat has is refused like an impossible purity."""
    found = fat.odd_certificate
    if found is not None:
        value, listed = found
        odd: dict[str, Figure] = {"name": fat.name, "value": f"{value:g}"}
        yield _outside("certificate", odd, listed, _by_published(formula, figures, fat, listed), is_far=fat.certificate_is_far)
    if fat.published is not None and fat.listed is not None and (fat.own_range_is_odd or fat.own_range_is_far):
        own: dict[str, Figure] = {"name": fat.name, "own": f"{fat.published.low:g} to {fat.published.high:g}"}
        own |= {"middle": f"{fat.published.middle:g}"}
        by_list = _by_published(formula, figures, fat, fat.listed)
        yield _outside("own_range", own, fat.listed, by_list, is_far=fat.own_range_is_far)


def _outside(what: str, known: dict[str, Figure], listed: Bounds, by_list: dict[str, Figure], *, is_far: bool) -> Finding:
    shown: dict[str, Figure] = {**known, "low": f"{listed.low:g}", "high": f"{listed.high:g}", **by_list}
    if is_far:
        return Finding(Level.REFUSAL, f"{what}_far_outside", shown)
    code = {"certificate": "certificate_outside_range", "own_range": "own_range_outside_list"}[what]
    return Finding(Level.WARNING, code, shown, needs_confirming=True, needs_check=True)


def _about_lines(formula: Formula, figures: Figures | None) -> Iterator[Finding]:
    for fat in formula.fats:
        yield from _about_fat(formula, figures, fat)
    yield from _about_names(formula, figures)
    for acid in formula.acids:
        yield from _about_acid(acid)
    yield from _about_acids(formula)
    for liquid in formula.liquids:
        yield from _about_plant_milk(liquid)
        yield from _about_unknown(liquid, formula.liquids)
    if formula.allergens:
        yield Finding(Level.NOTE, "allergens", {"names": ", ".join(sorted(set(formula.allergens), key=str.casefold))})


def _about_names(formula: Formula, figures: Figures | None) -> Iterator[Finding]:
    for one in formula.misnamed:
        other: dict[str, Figure] = {"name": one.name, "counted": one.counted, "chosen": one.chosen, "other": one.other}
        fat, value = next((fat for fat in formula.fats if fat.name == one.name), None), one.other_saponification
        other |= {} if fat is None or value is None else _by_published(formula, figures, fat, value)
        yield Finding(Level.WARNING, "name_says_other", other, needs_confirming=True, needs_check=True)
    for aside in formula.asides:
        burns, said = aside.acid is None, aside.figures(fats_g(formula.fats))
        code = "alkali_beside" if burns else "acid_beside"
        yield Finding(Level.WARNING, code, said, needs_confirming=burns, needs_check=burns)


def _about_acid(acid: Acid) -> Iterator[Finding]:
    if acid.strength_is_open:
        yield Finding(Level.WARNING, "acid_strength_missing", {"name": acid.name})
    elif acid.form_is_open:
        yield Finding(Level.NOTE, "acid_form_open", {"name": acid.name})
    if acid.strength is not None and acid.strength_is_odd:
        odd: dict[str, Figure] = {"name": acid.name, "strength_share": acid.strength}
        yield Finding(Level.WARNING, "acid_strength_odd", odd, needs_confirming=True, needs_check=True)


def _about_acids(formula: Formula) -> Iterator[Finding]:
    """Lye is added for every acid: where less of it goes in than was typed, that lye is left over and burns."""
    acid_g, whole_g = math.fsum(acid.mass_g for acid in formula.acids), fats_g(formula.fats)
    eaten_g = acids_mol(formula.acids).middle * NAOH_G_PER_MOL
    left_g = fats_mol(formula.fats).middle * (1 - formula.superfat) * NAOH_G_PER_MOL
    share = eaten_g / (eaten_g + left_g)
    if acid_g > whole_g:
        yield Finding(Level.REFUSAL, "acid_over_fats", {"acid_g": acid_g, "fats_g": whole_g})
    elif share > MUCH_ACID + _NOISE:
        most_g = _down(acid_g * left_g / eaten_g * MUCH_ACID / (1 - MUCH_ACID))
        much: dict[str, Figure] = {
            "acid_g": acid_g,
            "acid_share": share,
            "eaten_g": eaten_g,
            "left_g": left_g,
            "most_g": most_g,
        }
        is_over = eaten_g > left_g
        code = "acid_over_lye" if is_over else "acid_much"
        level = Level.REFUSAL if is_over else Level.WARNING
        yield Finding(level, code, much, needs_confirming=not is_over, needs_check=not is_over)


def _about_plant_milk(liquid: Liquid) -> Iterator[Finding]:
    if liquid.kind is not LiquidKind.PLANT_MILK or liquid.is_thickened is False:
        return
    level, code = (Level.WARNING, "plant_milk_thickened") if liquid.is_thickened else (Level.NOTE, "plant_milk_thickener_open")
    yield Finding(level, code, {"name": liquid.name})


def _about_unknown(liquid: Liquid, liquids: tuple[Liquid, ...]) -> Iterator[Finding]:
    if not liquid.unknown:
        return
    *before, last = liquid.unknown
    parts = f"{', '.join(before)} and {last}" if before else last
    figures: dict[str, Figure] = {"name": liquid.name, "parts": parts, "counted": liquid.counted_as}
    if "water" not in liquid.unknown:
        yield Finding(Level.NOTE, "liquid_part_unknown", figures)
        return
    # In front it is what the lye has to dissolve in.
    dissolves = liquid.place is Place.FRONT and liquid.kind is not LiquidKind.POWDER
    figures["liquid_share"] = liquid.liquid_g / (liquid_g(liquids) or 1.0)
    yield Finding(Level.WARNING, "liquid_unknown", figures, needs_confirming=dissolves)


def _about_fragrance(additives: tuple[Additive, ...], figures: Figures) -> Iterator[Finding]:
    # Against the bar with all its water gone: no bar that is washed with holds a larger share.
    for additive in (one for one in additives if one.is_fragrance):
        share = additive.mass_g / figures.dry_g.low
        if additive.most_share is None:
            yield Finding(Level.NOTE, "fragrance_limit_missing", {"name": additive.name, "fragrance_share": share})
        elif share > additive.most_share * (1 + _NOISE):
            over: dict[str, Figure] = {"name": additive.name, "fragrance_share": share, "most_share": additive.most_share}
            yield Finding(
                Level.WARNING, "fragrance_over_limit", {**over, "most_g": _down(additive.most_share * figures.dry_g.low)}
            )
