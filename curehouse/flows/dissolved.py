"""Lye that was dissolved beforehand as netting counts it: each lot by what is in it, never by what a recipe says today."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.stock.storeroom import StandIn
from curehouse.making.formulas.names import alkali_by_name
from curehouse.making.formulas.solutions import Dissolved as Known
from curehouse.making.formulas.solutions import dissolved_of
from curehouse.workshops.models import Workshop
from inventory.adapter import lot_key
from inventory.blends import Recipe
from inventory.models import Lot, Material

# What a kitchen scale shows; on which one it is weighed out is not known ahead.
_A_GRAM = 1.0


@dataclass(frozen=True, slots=True)
class Dissolved:
    """The lots that stand for dry lye, and the grams of it in a gram of each, by the lot's key in the core."""

    stand_ins: tuple[StandIn, ...] = ()
    shares: Mapping[str, Decimal] = field(default_factory=dict)


def dissolved_here(workshop: Workshop, recipes: Mapping[int, Recipe], lots: Iterable[Lot]) -> Dissolved:
    """Return what of *lots* (usable ones) is lye that was dissolved here; four queries where there is.

    Where nobody makes it any more, or it was made of another lye than it is now, or how strong it is is doubted, what is
    left of it is not counted: no run is promised what its weighing sheet may refuse. A gram of dry lye is at most as much
    of a lot as brings a gram of pure alkali: as a sheet reckons it, or a little more.
    """
    made = {key: one for key, one in recipes.items() if one.material.kind == Material.Kind.LYE}
    own = [lot for lot in lots if lot.material_id in made and lot.on_hand > 0]
    known = dissolved_of(workshop, own)
    stand_ins: list[StandIn] = []
    shares: dict[str, Decimal] = {}
    for lot in own:
        of, dry = known.get(lot.pk), {part.material_id for part, _share in made[lot.material_id].shares} - {None}
        strong = None if of is None or dry != {of.solution.dry.pk} else _strong(of)
        if of is not None and strong is not None:
            share = of.solution.share
            stand_ins.append(StandIn(lot_key(lot), str(of.solution.dry.pk), 1 / strong, float(1 - share)))
            shares[lot_key(lot)] = share
    return Dissolved(tuple(stand_ins), shares)


def _strong(of: Known) -> float | None:
    """Return the pure alkali (0-1) that is counted in a lot; None where that is not known, or doubted on any scale."""
    alkali = alkali_by_name(of.solution.dry.name) or Alkali.NAOH
    strong = of.strong(alkali, step_g=_A_GRAM)
    is_doubted = any(of.doubted(alkali, step_g=step_g) is not None for step_g in (0.0, _A_GRAM))
    return None if strong is None or is_doubted else strong.middle
