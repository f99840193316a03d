"""What a cut comes to against what was poured: bars as they were weighed on its day, and the trimmings."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from curehouse.common.time import local_day
from curehouse.curing.models import Reading
from curehouse.curing.queries.weighing import COUNTS
from curehouse.making.models import Batch, CutNote

# Bars cut by hand differ, water leaves in the mould, some stays in the pot (our own bound).
_WORTH_A_LOOK = Decimal("0.10")


@dataclass(frozen=True, slots=True)
class CutBalance:
    """So many bars of so many grams in the mean, and trimmings, against the grams that were poured."""

    bars: int
    mean_g: Decimal
    trim_g: Decimal
    poured_g: Decimal

    @property
    def cut_g(self) -> Decimal:
        """Return what bars and trimmings weighed together."""
        return self.bars * self.mean_g + self.trim_g

    @property
    def off(self) -> Decimal:
        """Return by what part of what was poured the cut is more (or, below 0, less)."""
        return (self.cut_g - self.poured_g) / self.poured_g

    @property
    def is_worth_a_look(self) -> bool:
        """Return whether they are so far apart that something was misread, miscounted or left out."""
        return abs(self.off) > _WORTH_A_LOOK


def cut_balance(batch: Batch, note: CutNote | None, readings: Iterable[Reading]) -> CutBalance | None:
    """Return how a cut balances (one query); None where trimmings, start weights or what went in are not known.

    *readings* are the batch's with their standing, oldest first; a bar's first that counts on the day of the cut is its
    start weight.
    """
    if batch.cut_at is None or not batch.bars_cut or note is None or note.trim_g is None:
        return None
    if batch.fats_g is None or batch.lye_g is None:
        return None
    zone = batch.workshop.time_zone
    day = local_day(batch.cut_at, zone)
    start: dict[int, Decimal] = {}
    for row in readings:
        if row.standing == COUNTS and local_day(row.moment, zone) == day:
            start.setdefault(row.bar_id, row.weight_g)
    if not start:
        return None
    liquids_g = batch.liquids.aggregate(sum=Sum("mass_g"))["sum"] or Decimal(0)
    mean_g = sum(start.values(), Decimal(0)) / len(start)
    return CutBalance(batch.bars_cut, mean_g, note.trim_g, batch.fats_g + batch.lye_g + liquids_g)
