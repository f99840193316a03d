"""What is wrong, doubtful or worth knowing about a formula: codes with their figures.

The words to each code stand in `words`.
"""

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from .acids import Acid
from .bounds import Bounds
from .fats import Fat
from .formula import Additive, Figures, Formula, setting_for_effective, work_out
from .liquids import LEAST_NOTICED_MILK, Liquid, LiquidKind, Place, liquid_g, sugar_g
from .lye import LyeAmount, PurityMissing
from .solubility import WARM_C

# Common practice, no source.
LEAST_LIQUID, MOST_LIQUID = 0.28, 0.38
MILK_FRONT_WATER_PER_LYE = 1.5
SOFT_SUPERFAT = 0.08
MILK_LYE_C, MILK_LYE_MOST_C, MILK_FATS_C = (24.0, 27.0), 30.0, (38.0, 41.0)
# Sugar that heats: as a share of a liquid (milks hold 4 to 5 %, USDA SR), or of the fats, by whatever it comes.
_SWEET_LIQUID, _SWEET_BATCH = 0.02, 0.005
# A share that is a bound to the maker is not always one to a float.
_NOISE = 1e-9


class Level(StrEnum):
    """How grave a finding is: ``refusal`` - not to be poured; ``warning`` - to be read first; ``note`` - good to know."""

    REFUSAL = "refusal"
    WARNING = "warning"
    NOTE = "note"


Figure = float | str


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding by its code.

    ``figures`` by name: masses end in ``_g`` (grams), shares in ``_share`` (0-1), temperatures in
    ``_c`` (°C), ratios in ``_times``; names and lists of them are text. ``needs_confirming``: a
    person must say that it was read; ``needs_check``: the alkalinity check must be passed before
    the bars are released.
    """

    level: Level
    code: str
    figures: Mapping[str, Figure] = field(default_factory=dict)
    needs_confirming: bool = False
    needs_check: bool = False

    @property
    def read_as(self) -> str:
        """What a person says of it who read it: the code, what it is about, and the figure that stood there."""
        about, figure = _READ.get(self.code, ("", ""))
        said = self.figures.get(figure, "")
        shown = said if isinstance(said, str) else f"{math.floor(said * 10_000 + _NOISE) / 10_000:.4f}"
        return ":".join(str(one) for one in (self.code, self.figures.get(about, ""), shown) if one != "")

    def was_read(self, said: Collection[str]) -> str | None:
        """Return what of *said* confirms it, each as `read_as`, or None: a figure that is worse by now is asked about again."""
        about, _, figure = self.read_as.rpartition(":")
        for one in said:
            if one == self.read_as or (self.code in _MAY_RISE and about == _about(one) and _figure(one) <= float(figure)):
                return one
        return None


# What is confirmed is a figure and not a kind of doubt: what it is about, and which of the figures it is.
_READ = {
    "may_be_caustic": ("", "low_share"),
    "batch_too_small": ("", "low_share"),
    "purity_low": ("alkali", "purity_share"),
    "certificate_outside_range": ("name", "value"),
    "own_range_outside_list": ("name", "own"),
    "liquid_unknown": ("name", "liquid_share"),
}
# Of these a higher figure than the one that was read needs no more reading; of the others any other figure does.
_MAY_RISE = frozenset({"may_be_caustic", "batch_too_small", "purity_low"})


def _about(read: str) -> str:
    return read.rpartition(":")[0]


def _figure(read: str) -> float:
    """Return the figure that was read; one that is none, or that no share can be (below -1), covers nothing."""
    try:
        figure = float(read.rpartition(":")[2])
    except ValueError:
        return math.inf
    return figure if figure >= -1 else math.inf


def lowest_read(said: Collection[str]) -> float:
    """Return the lowest superfat (0-1) that a person said they read as a low end, 0 where none below it was read."""
    lows = [_figure(one) for one in said if _about(one) in ("may_be_caustic", "batch_too_small")]
    return min([low for low in lows if math.isfinite(low)], default=0.0)


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
        code = "liquid_low" if share < LEAST_LIQUID else "liquid_high"
        yield Finding(
            Level.WARNING,
            code,
            {
                "liquid_share": share,
                "least_g": _up(LEAST_LIQUID * figures.fats_g),
                "most_g": _down(MOST_LIQUID * figures.fats_g),
                "water_share": figures.water_share.middle,
            },
        )
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


def _about_front(formula: Formula, figures: Figures) -> Iterator[Finding]:
    water_g, needed_g, lye_g = figures.front_water_g, figures.dissolving_water_g, figures.lye_g
    known: dict[str, Figure] = {"water_g": water_g, "lye_g": lye_g, "front_c": formula.front_c}
    is_milk = any(one.place is Place.FRONT and (one.is_milk or one.kind is LiquidKind.POWDER) for one in formula.liquids)
    if needed_g is None:
        yield Finding(Level.REFUSAL, "koh_front_cold", {**known, "warm_c": WARM_C})
    elif water_g < needed_g * (1 - _NOISE):
        code = "lye_over_solubility" if formula.front_c >= WARM_C else "lye_over_cold_solubility"
        yield Finding(Level.REFUSAL, code, {**known, "needed_g": _up(needed_g), "warm_c": WARM_C})
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


def _by_published(formula: Formula, figures: Figures | None, fat: Fat, listed: Bounds) -> dict[str, Figure]:
    """Return the superfat of the same lye if *fat* lies in the range that is *listed* (mg KOH per g) after all."""
    if figures is None:
        return {}
    usual = replace(fat, published=listed, listed=None, certificate=None, certificate_most=None)
    same = replace(formula, fats=tuple(usual if one is fat else one for one in formula.fats))
    found = work_out(same, figures.lye).superfat.of_fats
    return {"listed_low_share": found.low, "listed_middle_share": found.middle}


def _about_lines(formula: Formula, figures: Figures | None) -> Iterator[Finding]:
    for fat in formula.fats:
        if fat.odd_certificate is not None and fat.published is not None:
            odd: dict[str, Figure] = {"name": fat.name, "value": f"{fat.odd_certificate:g}"}
            odd |= {"low": f"{fat.published.low:g}", "high": f"{fat.published.high:g}"}
            odd |= _by_published(formula, figures, fat, fat.published)
            yield Finding(Level.WARNING, "certificate_outside_range", odd, needs_confirming=True, needs_check=True)
        if fat.own_range_is_odd and fat.published is not None and fat.listed is not None:
            own: dict[str, Figure] = {"name": fat.name, "own": f"{fat.published.low:g} to {fat.published.high:g}"}
            own |= {"low": f"{fat.listed.low:g}", "high": f"{fat.listed.high:g}"}
            own |= _by_published(formula, figures, fat, fat.listed)
            yield Finding(Level.WARNING, "own_range_outside_list", own, needs_confirming=True, needs_check=True)
    for acid in formula.acids:
        yield from _about_acid(acid)
    for liquid in formula.liquids:
        yield from _about_plant_milk(liquid)
        yield from _about_unknown(liquid, formula.liquids)
    if formula.allergens:
        yield Finding(Level.NOTE, "allergens", {"names": ", ".join(sorted(set(formula.allergens), key=str.casefold))})


def _about_acid(acid: Acid) -> Iterator[Finding]:
    if acid.strength_is_open:
        yield Finding(Level.WARNING, "acid_strength_missing", {"name": acid.name})
    elif acid.form_is_open:
        yield Finding(Level.NOTE, "acid_form_open", {"name": acid.name})


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
