"""Lye that was dissolved beforehand as netting counts it: by what is in each lot, never by what a recipe says today."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import TypeVar

from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.stock import storeroom as core
from curehouse.core.stock.explode import Parts
from curehouse.core.stock.netting import Prospect, RunCheck, RunMaterial, Supplied
from curehouse.core.stock.supplied import Taken
from curehouse.making.formulas.names import alkali_by_name
from curehouse.making.formulas.solutions import Dissolved as Known
from curehouse.making.formulas.solutions import dissolved_of
from curehouse.workshops.models import Workshop
from inventory.adapter import lot_key
from inventory.blends import Recipe, lye_may_be_dissolved
from inventory.models import Lot, Material

# What the water of a solution is called in the core, beside which nothing is kept under that name.
WATER = "not kept: water"
# What a kitchen scale shows; on which one it is weighed out is not known ahead.
_A_GRAM = 1.0
_Row = TypeVar("_Row", RunMaterial, Supplied)


@dataclass(frozen=True, slots=True)
class Made:
    """A material of which lots of one dissolved lye are here: grams of that lye in a gram, in their mean and the weakest."""

    material: int
    share: float
    weakest: float


@dataclass(frozen=True, slots=True)
class Dissolved:
    """The solutions that stand for dry lye, by the key of that lye, first by the order of the recipes.

    A run takes what is dissolved first, then weighs dry lye. In the core amounts of a solution are grams of its mean
    strength: what a run takes of a lot leaves the flow in grams as they are weighed (`as_weighed`).
    """

    of_lye: Mapping[int, tuple[Made, ...]] = field(default_factory=dict)
    factors: Mapping[str, float] = field(default_factory=dict)

    @property
    def parts(self) -> dict[int, Parts]:
        """Return of each solution what stands for it once it is used up: the next one of that lye, then dry lye; and water."""
        found: dict[int, Parts] = {}
        for dry, chain in self.of_lye.items():
            for place, one in enumerate(chain):
                next_one = chain[place + 1] if place + 1 < len(chain) else Made(dry, 1.0, 1.0)
                share = one.share / next_one.share
                water: Parts = ((WATER, 1 - share),) if share < 1 else ()
                found[one.material] = ((str(next_one.material), share), *water)
        return found

    def needs(self, material: int, grams: float, water_g: float) -> dict[int, float]:
        """Return what *grams* of a material are taken as, where so much *water_g* may come with it."""
        chain = self.of_lye.get(material, ())
        if not chain:
            return {material: grams}
        # No more of it than the water in front has room for, whichever lot it is.
        weakest = min(one.weakest for one in chain)
        dissolved_g = min(grams, water_g * weakest / (1 - weakest))
        taken = {chain[0].material: dissolved_g / chain[0].share, material: grams - dissolved_g}
        return {key: amount for key, amount in taken.items() if amount > 0}

    def as_weighed(self, one: _Row) -> _Row:
        """Return what a run takes of a material with each lot's grams as they are weighed, and what is needed by them."""
        if not any(taken.supply in self.factors for taken in one.takes):
            return one
        takes = self.takes(one.takes)
        more_g = sum(taken.amount for taken in takes) - sum(taken.amount for taken in one.takes)
        return replace(one, takes=takes, needed_g=one.needed_g + more_g)

    def takes(self, takes: Iterable[Taken]) -> tuple[Taken, ...]:
        """Return takes in grams as they are weighed."""
        return tuple(Taken(one.supply, one.amount / self.factors.get(one.supply, 1.0)) for one in takes)

    def check(self, found: RunCheck) -> RunCheck:
        """Return the check of a run with what it takes of each lot in grams as they are weighed."""
        rows = [replace(one, likely=self.as_weighed(one.likely), safe=self.as_weighed(one.safe)) for one in found.materials]
        return RunCheck(tuple(rows), self._prospect(found.likely), self._prospect(found.safe))

    def _prospect(self, found: Prospect) -> Prospect:
        return replace(found, takes_on_first_day={key: self.takes(one) for key, one in found.takes_on_first_day.items()})

    def lots(self, lots: Iterable[core.Lot]) -> list[core.Lot]:
        """Return lots of the core with those of solutions in grams of their mean strength."""
        return [replace(lot, amount_g=lot.amount_g * self.factors.get(lot.key, 1.0)) for lot in lots]


def dissolved_here(workshop: Workshop, recipes: Mapping[int, Recipe], lots: Iterable[Lot]) -> Dissolved:
    """Return what of *lots* (usable ones) is lye that was dissolved here; four queries where there is.

    None while lye is not dissolved beforehand here. Where nobody makes it any more, or it was made of another lye than it
    is now, or how strong it is is doubted, what is left of it is not counted: no run is promised what it may not find.
    """
    if not lye_may_be_dissolved():
        return Dissolved()
    made = {key: one for key, one in recipes.items() if one.material.kind == Material.Kind.LYE}
    own = [lot for lot in lots if lot.material_id in made and lot.on_hand > 0]
    known = dissolved_of(workshop, own)
    of_lye: dict[int, tuple[Made, ...]] = {}
    factors: dict[str, float] = {}
    for key, recipe in made.items():
        dry = {part.material_id for part, _share in recipe.shares if part.material_id is not None}
        found = [one for lot in own if lot.material_id == key and (one := _of(known.get(lot.pk), lot, dry)) is not None]
        if len(dry) != 1 or not found:
            continue
        whole_g = sum((lot.on_hand for lot, _share in found), Decimal(0))
        mean = float(sum((lot.on_hand * share for lot, share in found), Decimal(0)) / whole_g)
        one = Made(key, mean, float(min(share for _lot, share in found)))
        (lye,) = dry
        of_lye[lye] = (*of_lye.get(lye, ()), one)
        factors |= {lot_key(lot): float(share) / mean for lot, share in found}
        factors |= {lot_key(lot): 0.0 for lot in own if lot.material_id == key and lot_key(lot) not in factors}
    return Dissolved(of_lye, factors)


def _of(known: Known | None, lot: Lot, dry: set[int | None]) -> tuple[Lot, Decimal] | None:
    """Return a lot with the grams of lye in a gram of it; None where it is not known, doubted, or of another lye."""
    if known is None or known.solution.dry.pk not in dry:
        return None
    alkali = alkali_by_name(known.solution.dry.name) or Alkali.NAOH
    return None if known.doubted(alkali, step_g=_A_GRAM) is not None else (lot, known.solution.share)
