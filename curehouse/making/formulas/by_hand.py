"""The pour of a batch that was entered by hand, without a formula: by the lots that were booked to it."""

import math
from collections.abc import Sequence
from dataclasses import replace

from curehouse.core.chemistry.alkali import UNCERTIFIED_NAOH, Alkali
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.liquids import Liquid, Place, milk_fat_mol
from curehouse.core.chemistry.poured import Part, Pour
from curehouse.core.chemistry.scale import Scales
from curehouse.making.formulas.adapter import bench_steps_g
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import Batch, BatchLiquid
from curehouse.workshops.models import Scale

# So much of the fats has to be booked: of the rest nobody knows which it was.
_LEAST_BOOKED = 0.99


def begun_by_hand(batch: Batch, *, liquids: Sequence[BatchLiquid], scales: Sequence[Scale]) -> Pour:
    """Return what is known of a batch that names no fats: its lye and its milk.

    Lye of which nobody said which it is counts as sodium hydroxide, which brings more alkali a gram.
    """
    step_g, fine_step_g = (float(step) for step in bench_steps_g(scales))
    koh_g = float(batch.koh_g or 0)
    masses_g = {Alkali.NAOH: float(batch.lye_g) - koh_g, Alkali.KOH: koh_g}
    purities: dict[Alkali, Bounds | None] = {Alkali.NAOH: UNCERTIFIED_NAOH, Alkali.KOH: None}
    return Pour(
        fats=(),
        lye=tuple(Part(mass_g, purities[alkali], alkali) for alkali, mass_g in masses_g.items() if mass_g > 0),
        acids_mol=ZERO,
        milk_mol=milk_fat_mol([_liquid(row) for row in liquids if row.kind in liquid_kinds()], step_g),
        scales=Scales(step_g, fine_step_g),
    )


def with_booked(pour: Pour, booked: Sequence[tuple[int | None, Part]], *, fats_g: float) -> Pour | None:
    """Return *pour* with the lots that were *booked*; None where they are not all of its *fats_g* grams of fats."""
    fats = [part for _number, part in booked if part.alkali is None]
    booked_g = math.fsum(part.mass_g for part in fats)
    if booked_g < _LEAST_BOOKED * fats_g:
        return None
    weighed = tuple(replace(part, mass_g=part.mass_g * fats_g / booked_g) for part in fats)
    return replace(pour.with_lots([one for one in booked if one[1].alkali is not None]), fats=weighed)


def _liquid(row: BatchLiquid) -> Liquid:
    kind = liquid_kinds()[row.kind]
    return Liquid(kind.name, float(row.mass_g), Place(row.place), kind.kind, kind.made_of)
