"""Asking about many weights at once: fetched in a few queries, then asked about in memory.

The answers are those that weighing one by one, in the order of the moments, would have given: a
weight that came in with the others counts for the later ones, unless it is doubtful itself.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from curehouse.core.cure.doubt import OtherWeight
from curehouse.core.cure.rule import SampleSeries
from curehouse.core.cure.series import Weighing
from curehouse.curing.adapter import day_of, sample_series
from curehouse.curing.doubts import Beside, DoubtFound, bar_masses_g, doubt_about, foretold_of, tares_in_use
from curehouse.curing.models import Occupancy, Reading, SampleBar
from curehouse.curing.queries.weighing import COUNTS
from curehouse.workshops.models import Scale, Workshop


class Remembered:
    """What weights of some batches are held against, growing as weighings come in.

    Fetched in six queries: where bars stand, the sample bars of these batches and of those that
    share a rack with them, their weighings, what was foretold, what went into the batches, and the scales' tares.
    """

    def __init__(self, *, workshop: Workshop, batch_ids: Iterable[int], scale_ids: Collection[int]) -> None:
        self._tares = tares_in_use(workshop, scale_ids)
        wanted = set(batch_ids)
        self._nearby = _batches_nearby(workshop, wanted)
        batches = wanted.union(*self._nearby.values())
        self._bars: dict[int, list[SampleBar]] = defaultdict(list)
        for bar in (
            SampleBar.objects.within(workshop)
            .filter(batch__in=batches)
            .select_related("batch__formula")
            .order_by("batch", "letter")
        ):
            self._bars[bar.batch_id].append(bar)
        self._bar_mass_g = bar_masses_g(
            workshop, [self._bars[batch_id][0].batch for batch_id in sorted(wanted) if self._bars[batch_id]]
        )
        readings: dict[int, list[Reading]] = defaultdict(list)
        for row in Reading.objects.within(workshop).of_batches(batches).with_standing().select_related("bar"):
            readings[row.bar.batch_id].append(row)
        foretold = foretold_of(workshop, wanted)
        self._series: dict[int, SampleSeries] = {}
        self._newest: dict[int, tuple[datetime, OtherWeight]] = {}
        for batch_id, bars in self._bars.items():
            if batch_id in wanted:
                series = sample_series(bars[0].batch, bars, readings[batch_id], foretold=foretold.get(batch_id, {}))
                self._series.update({bar.pk: one for bar, one in zip(bars, series, strict=True)})
            here = {bar.pk: bar for bar in bars}
            for row in readings[batch_id]:
                if row.standing == COUNTS:
                    self._note_newest(here[row.bar_id], row.moment, row.weight_g)

    def doubt_about(
        self, bar: SampleBar, *, weight_g: Decimal, moment: datetime, scale: Scale | None, typed: str, unit: str
    ) -> DoubtFound | None:
        """Return what is to be asked about a weight of *bar*, or None; and remember the weight."""
        others = tuple(self._series[other.pk] for other in self._bars[bar.batch_id] if other.pk != bar.pk)
        around = Beside(
            bar=bar, own=self._series[bar.pk], others=others, neighbours=(), bar_mass_g=self._bar_mass_g.get(bar.batch_id)
        )
        tares = self._tares.get(scale.pk, ()) if scale else ()
        told = {"weight_g": weight_g, "moment": moment, "scale": scale, "tares": tares, "typed": typed, "unit": unit}
        doubt = doubt_about(around, **told)
        if doubt is not None:
            # Neighbours only say what a doubtful weight may be, so few rows need them gathered.
            around = replace(around, neighbours=self._neighbours(bar.batch_id))
            doubt = doubt_about(around, **told)
        self._remember(bar, weight_g, moment, scale, doubtful=doubt is not None)
        return doubt

    def _neighbours(self, batch_id: int) -> tuple[OtherWeight, ...]:
        return tuple(
            self._newest[bar.pk][1]
            for other in self._nearby.get(batch_id, ())
            for bar in self._bars[other]
            if bar.ended_at is None and bar.pk in self._newest
        )

    def _remember(self, bar: SampleBar, weight_g: Decimal, moment: datetime, scale: Scale | None, *, doubtful: bool) -> None:
        one = self._series[bar.pk]
        weighing = Weighing(day_of(bar.batch, moment), float(weight_g), doubtful=doubtful, scale=scale.pk if scale else None)
        self._series[bar.pk] = replace(one, weighings=(*one.weighings, weighing))
        if not doubtful:
            self._note_newest(bar, moment, weight_g)

    def _note_newest(self, bar: SampleBar, moment: datetime, weight_g: Decimal) -> None:
        known = self._newest.get(bar.pk)
        if known is None or known[0] <= moment:
            self._newest[bar.pk] = (moment, OtherWeight(f"{bar.batch} {bar.letter}", float(weight_g)))


def _batches_nearby(workshop: Workshop, wanted: set[int]) -> dict[int, set[int]]:
    """Return, for each batch wanted, the other batches that stand on its racks."""
    on_rack: dict[int, set[int]] = defaultdict(set)
    standing = Occupancy.objects.within(workshop).filter(bars__gt=0)
    for batch_id, rack_id in standing.values_list("batch_id", "position__rack_id"):
        on_rack[rack_id].add(batch_id)
    nearby: dict[int, set[int]] = defaultdict(set)
    for batches in on_rack.values():
        for batch_id in batches & wanted:
            nearby[batch_id] |= batches - {batch_id}
    return nearby
