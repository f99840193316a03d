"""Lye that was dissolved here beforehand: what stands in each lot of it, by what went into it as it was made."""

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from curehouse.workshops.models import Workshop
from inventory.models import Lot, Making, MakingTake, Material, Movement


@dataclass(frozen=True, slots=True)
class Solution:
    """A lot of one dry lye in water: *made_g* grams came of the grams *taken* of lots of that lye, and of water.

    By counts *missing_g* grams of it were missing since: used by nobody, they may have been water that dried out of it.
    """

    lot: Lot
    made_g: Decimal
    taken: tuple[tuple[Lot, Decimal], ...]
    missing_g: Decimal = Decimal(0)

    @property
    def dry(self) -> Material:
        """Return the lye that is dissolved in it."""
        return self.taken[0][0].material

    @property
    def share(self) -> Decimal:
        """Return the grams of that lye, as it was weighed, in a gram of it; what was lost counts as water."""
        return sum((grams for _lot, grams in self.taken), Decimal(0)) / self.made_g


def solutions_of(workshop: Workshop, lots: Collection[int]) -> dict[int, Solution | None]:
    """Return by its key each of *lots* that is lye made here; None where what is in it is not known. Two queries.

    It is not known once something that it took was taken back, and of anything but one dry lye and water.
    """
    if not lots:
        return {}
    takes = MakingTake.objects.within(workshop).filter(making__lot__in=lots, making__lot__material__kind=Material.Kind.LYE)
    rows = takes.select_related("making__lot__material", "movement__lot__material", "movement__corrected_by").order_by("pk")
    by_lot: dict[int, list[MakingTake]] = {}
    for row in rows:
        by_lot.setdefault(row.making.lot_id, []).append(row)
    counted = Movement.objects.within(workshop).filter(lot__in=by_lot, kind=Movement.Kind.COUNT).order_by()
    missing = dict(counted.values_list("lot").annotate(found=Sum("amount"))) if by_lot else {}
    return {lot: _solution(rows[0].making, rows, -missing.get(lot, Decimal(0))) for lot, rows in by_lot.items()}


def _solution(making: Making, rows: list[MakingTake], missing_g: Decimal) -> Solution | None:
    kept = [row for row in rows if row.movement is not None]
    taken = tuple((row.movement.lot, row.amount_g) for row in kept)
    if not taken or any(hasattr(row.movement, "corrected_by") for row in kept):
        return None
    if any(lot.material.kind != Material.Kind.LYE for lot, _grams in taken) or len({lot.material_id for lot, _g in taken}) > 1:
        return None
    found = Solution(making.lot, making.made_g, taken, max(missing_g, Decimal(0)))
    return found if found.share < 1 else None
