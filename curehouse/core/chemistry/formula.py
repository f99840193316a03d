"""A formula worked out: what to weigh, what it will be, and within what ends."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from .acids import Acid, acids_mol, acids_water_g
from .alkali import NAOH_G_PER_MOL, LyePart, check_mix
from .bounds import Bounds, total
from .fats import Fat, fats_g, fats_mol
from .liquids import Liquid, Place, free_water, front_water_g, liquid_g, milk_fat_mol, milk_g
from .lye import LyeAmount, lye_amounts, lye_mol
from .named import Aside, Misnamed
from .scale import Scales, weighed
from .solubility import water_needed_g
from .superfat import SmallestBatch, Superfat, setting_for, smallest_batch, superfat

# Water left in a bar that counts as dry, as a share of the bar: nothing at the least; 12 to 15 % is
# what toilet soap of trade holds (Spitz and Ferrari, Soap Manufacturing Technology, 2016, chapter 7).
DRY_BAR_WATER = Bounds(0.0, 0.12, 0.15)


@dataclass(frozen=True, slots=True)
class Additive:
    """Whatever else goes in, in grams: fragrance, colour, clay.

    A fragrance says so; ``most_share`` is its supplier's maximum as a share (0-1) of the finished
    bar, None if not at hand.
    """

    name: str
    mass_g: float
    is_fragrance: bool = False
    most_share: float | None = None

    def __post_init__(self) -> None:
        if not 0 < self.mass_g < math.inf:
            raise ValueError("an additive has a mass above 0 g")
        if self.most_share is not None and not 0 < self.most_share <= 1:
            raise ValueError("a maximum is a share above 0 and up to 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """What goes in and how the lye is set.

    ``superfat`` is the share of the lye that neutral bars of the fats would take and that is left
    out (0.05 is 5 %); ``front_c`` the temperature in °C at which the liquid in front holds its lye;
    ``allergens`` words for the label; ``misnamed`` and ``asides`` what the names of its lines say.
    """

    fats: tuple[Fat, ...]
    superfat: float
    lye: tuple[LyePart, ...]
    scales: Scales
    front_c: float
    liquids: tuple[Liquid, ...] = ()
    acids: tuple[Acid, ...] = ()
    additives: tuple[Additive, ...] = ()
    allergens: tuple[str, ...] = ()
    misnamed: tuple[Misnamed, ...] = ()
    asides: tuple[Aside, ...] = ()

    def __post_init__(self) -> None:
        if not self.fats:
            raise ValueError("a formula has fats")
        if not -1 < self.superfat < 1 or not math.isfinite(self.front_c):
            raise ValueError("a superfat is a share below 1, and the front has a temperature")
        check_mix(self.lye)

    def times(self, factor: float) -> "Formula":
        """Return the formula with every mass times *factor* (above 0)."""
        return replace(
            self,
            fats=tuple(replace(one, mass_g=one.mass_g * factor) for one in self.fats),
            liquids=tuple(replace(one, mass_g=one.mass_g * factor) for one in self.liquids),
            acids=tuple(replace(one, mass_g=one.mass_g * factor) for one in self.acids),
            additives=tuple(replace(one, mass_g=one.mass_g * factor) for one in self.additives),
            asides=tuple(replace(one, mass_g=one.mass_g * factor) for one in self.asides),
        )


@dataclass(frozen=True, slots=True)
class Figures:
    """What a formula comes to. Masses in grams, shares 0-1.

    ``lye`` is what is weighed; ``acids_naoh_g`` the part of it, as pure sodium hydroxide, that the
    acids eat. ``superfat`` counts what is weighed, after rounding. ``liquid_g`` is the total: what stands in front
    and at trace, and ``acids_water_g``, the water that acids bring. ``front_water_g`` is the water in
    which the lye is dissolved, at its low end, and ``dissolving_water_g`` what it needs at least
    (None: nothing can be counted on at this temperature). ``water_share`` is free water over the
    whole batch; ``dry_g`` the batch once it is dry, at the least with all its water gone.
    """

    fats_g: float
    lye: tuple[LyeAmount, ...]
    acids_naoh_g: float
    superfat: Superfat
    liquid_g: float
    acids_water_g: float
    front_g: float
    trace_g: float
    front_water_g: float
    dissolving_water_g: float | None
    milk_g: float
    free_water_g: Bounds
    batch_g: Bounds
    water_share: Bounds
    dry_g: Bounds
    smallest: SmallestBatch

    @property
    def lye_g(self) -> float:
        """All lye as it is weighed."""
        return math.fsum(amount.weigh_g for amount in self.lye)

    @property
    def liquid_share(self) -> float:
        """Total liquid as a share of the fats."""
        return self.liquid_g / self.fats_g

    @property
    def milk_share(self) -> float:
        """The milk's share of the total liquid."""
        return self.milk_g / self.liquid_g if self.liquid_g else 0.0


def work_out(formula: Formula, weighed_lye: Sequence[LyeAmount] | None = None) -> Figures:
    """Return the figures of *formula*; with *weighed_lye* (`lye.given`) those of the lye that really went in.

    Raises
    ------
    PurityMissing
        If the potassium hydroxide has no purity: then there is no amount to show.
    TooSmall
        If the fats are less than the scale can tell from nothing.
    """
    step_g, fine_g = formula.scales.step_g, formula.scales.fine_step_g
    lye = planned_lye(formula) if weighed_lye is None else tuple(weighed_lye)
    # First, so that fats of which the scale can show nothing are refused before anything is divided by them.
    found = superfat(
        fats_mol=fats_mol(formula.fats, step_g),
        milk_mol=milk_fat_mol(formula.liquids, step_g),
        acids_mol=acids_mol(formula.acids, fine_g),
        lye_mol=lye_mol(lye, fine_g),
    )
    water_g = total((free_water(formula.liquids, step_g), Bounds.exactly(acids_water_g(formula.acids))))
    batch_g = total(
        (
            *(weighed(amount.weigh_g, fine_g) for amount in lye),
            *(weighed(acid.mass_g, fine_g) for acid in formula.acids),
            *(weighed(mass_g, step_g) for mass_g in _coarse_g(formula)),
        )
    )
    share = Bounds(
        min(1.0, water_g.low / batch_g.high), min(1.0, water_g.middle / batch_g.middle), min(1.0, water_g.high / batch_g.low)
    )
    return Figures(
        fats_g=fats_g(formula.fats),
        lye=lye,
        acids_naoh_g=acids_mol(formula.acids).middle * NAOH_G_PER_MOL,
        superfat=found,
        liquid_g=liquid_g(formula.liquids) + acids_water_g(formula.acids),
        acids_water_g=acids_water_g(formula.acids),
        front_g=liquid_g(formula.liquids, Place.FRONT),
        trace_g=liquid_g(formula.liquids, Place.TRACE),
        front_water_g=front_water_g(formula.liquids),
        dissolving_water_g=water_needed_g({amount.alkali: amount.pure_g for amount in lye}, formula.front_c),
        milk_g=milk_g(formula.liquids),
        free_water_g=water_g,
        batch_g=batch_g,
        water_share=share,
        dry_g=_with_its_fats(dry_mass(batch_g, share), formula),
        smallest=smallest_batch(fats=formula.fats, acids=formula.acids, lye=lye, scales=formula.scales),
    )


def _with_its_fats(dry_g: Bounds, formula: Formula) -> Bounds:
    """Return *dry_g* with its low end at the least fats that may be there: what the scale may be off dries no fat away."""
    least_g = math.fsum(weighed(fat.mass_g, formula.scales.step_g).low for fat in formula.fats)
    return replace(dry_g, low=max(dry_g.low, min(least_g, dry_g.middle)))


def planned_lye(formula: Formula) -> tuple[LyeAmount, ...]:
    """Return what to weigh of each alkali for *formula*; raises as `lye.lye_amounts`."""
    return lye_amounts(
        fats_mol=fats_mol(formula.fats),
        acids_mol=acids_mol(formula.acids),
        superfat=formula.superfat,
        parts=formula.lye,
        step_g=formula.scales.fine_step_g,
    )


def _coarse_g(formula: Formula) -> list[float]:
    """Return the masses that are weighed on the scale for fats and liquids, in grams."""
    return [
        *(fat.mass_g for fat in formula.fats),
        *(liquid.mass_g for liquid in formula.liquids),
        *(additive.mass_g for additive in formula.additives),
    ]


def dry_mass(fresh_g: Bounds, water_share: Bounds, left: Bounds = DRY_BAR_WATER) -> Bounds:
    """Return what a batch or bar of *fresh_g* grams weighs once dry.

    ``water_share`` is the fresh share of water and ``left`` the share of the dry bar that still is
    water. Never more than the fresh mass: a bar that has less water than that loses none.
    """
    return Bounds(
        min(fresh_g.low, fresh_g.low * (1 - water_share.high) / (1 - left.low)),
        min(fresh_g.middle, fresh_g.middle * (1 - water_share.middle) / (1 - left.middle)),
        min(fresh_g.high, fresh_g.high * (1 - water_share.low) / (1 - left.high)),
    )


def setting_for_effective(formula: Formula, effective: float) -> float:
    """Return the superfat to set so that it is *effective* with the milk's own fat (both shares, 0.05 is 5 %)."""
    return setting_for(
        effective=effective, fats_mol=fats_mol(formula.fats).middle, milk_mol=milk_fat_mol(formula.liquids).middle
    )


def fresh_batch_g(formula: Formula) -> float:
    """Return the mass of the batch in grams with its lye unrounded, so that it grows as the formula does."""
    lye = (amount.exact_g for amount in planned_lye(formula))
    return math.fsum((*lye, *(acid.mass_g for acid in formula.acids), *_coarse_g(formula)))
