"""Writing what a cure log brings: a few statements for some batches at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from curehouse.curing.bulk import Remembered
from curehouse.curing.doubts import DoubtFound
from curehouse.curing.models import Position, Reading, SampleBar
from curehouse.curing.services.brought import bring_cures, bring_sample_bars
from curehouse.curing.services.cures import note_news_of
from curehouse.curing.services.forecasts import want_learning
from curehouse.curing.services.places import place
from curehouse.curing.services.readings import ReadingEntry, record_readings
from curehouse.flows.assess import assess_quietly
from curehouse.flows.bring_in.batch_settling import SettledBatch
from curehouse.flows.bring_in.batch_weights import NewWeight
from curehouse.flows.bring_in.work import Work
from curehouse.flows.due import renew_due
from curehouse.flows.turn_notices import renew_turning
from curehouse.making.models import Batch
from curehouse.making.services import BroughtBatch, bring_batches, lock_batches

_Placed = tuple[Batch, SampleBar, NewWeight]


@dataclass(frozen=True, slots=True)
class _ToPlace:
    """A new batch that has a place on the racks."""

    batch: Batch
    position: Position
    bars: int
    cut_at: datetime


class Writing:
    """Writes batches, sample bars, weighings and cures; in the end those that still cure get their one verdict.

    Of a batch that is over nothing is held once it is written. Batches that are here are locked first,
    *here* being their keys: before any cure, and before any place on the racks.
    """

    def __init__(self, work: Work, here: Sequence[int]) -> None:
        self._work = work
        self._touched: set[int] = set()
        self._over: set[int] = set()
        self._to_place: list[_ToPlace] = []
        lock_batches(work.workshop, here)

    def write(self, batches: Sequence[SettledBatch]) -> None:
        """Write some batches."""
        work = self._work
        new = [one for one in batches if one.batch is None]
        written = bring_batches(actor=work.actor, entries=[_entry(one) for one in new], at=work.at)
        for one, batch in zip(new, written, strict=True):
            one.batch = batch
        bars = _bars(work, batches)
        placed = [
            (one.batch, bars[one.batch.pk, weight.weighed.plan.bar.casefold()], weight)
            for one in batches
            for weight in one.weights
        ]
        for batch, bar, _weight in placed:
            bar.batch = batch
        readings = _write_readings(work, placed)
        newest: dict[int, Reading] = {}
        for (batch, _bar, _weight), reading in zip(placed, readings, strict=True):
            if batch.pk not in newest or newest[batch.pk].moment <= reading.moment:
                newest[batch.pk] = reading
        bring_cures(workshop=work.workshop, batches=written, newest=newest, at=work.at)
        self._remember(batches, new)

    def _remember(self, batches: Sequence[SettledBatch], new: Sequence[SettledBatch]) -> None:
        written = {one.batch.pk for one in new if one.batch is not None}
        for one in batches:
            if one.batch is None or not (one.weights or one.labels):
                continue
            if one.batch.state == Batch.State.CURING:
                self._touched.add(one.batch.pk)
            elif one.batch.pk not in written:
                self._over.add(one.batch.pk)
        for one in new:
            if one.position is not None and one.bars and one.batch is not None:
                self._to_place.append(_ToPlace(one.batch, one.position, one.bars, one.cut_at))

    def finish(self) -> None:
        """Place what is new and has a place, and let every batch that still cures stand where its weighings say."""
        work = self._work
        for one in self._to_place:
            place(
                actor=work.actor, batch=one.batch, position=one.position, bars=one.bars, moved_at=one.cut_at,
                at=work.at, when_full="elsewhere",
            )  # fmt: skip
        note_news_of(workshop=work.workshop, batch_ids=self._touched | self._over, at=work.at)
        assess_quietly(workshop=work.workshop, batch_ids=self._touched, at=work.at)
        renew_due(workshop=work.workshop, at=work.at, batch_ids=self._touched, was_weighed=True)
        renew_turning(workshop=work.workshop, at=work.at)
        want_learning(workshop=work.workshop, at=work.at)
        work.progress("writing", 1, 1)


def _entry(one: SettledBatch) -> BroughtBatch:
    facts = one.plan.facts
    return BroughtBatch(
        known_as=one.plan.mark,
        formula_name=one.formula,
        cut_at=one.cut_at,
        water_share=one.share,
        is_over=one.is_over,
        bars=one.bars,
        poured_at=one.poured_at,
        fats_g=facts.get("fats"),
        lye_g=facts.get("lye"),
        koh_g=facts.get("koh"),
        needs_check=one.is_lye_doubtful and not one.is_over,
        note=facts.get("note", ""),
    )


def _bars(work: Work, batches: Sequence[SettledBatch]) -> dict[tuple[int, str], SampleBar]:
    here = [one.batch for one in batches if one.batch is not None]
    labels = [(one.batch, label) for one in batches for label in one.labels if one.batch is not None]
    known = SampleBar.objects.within(work.workshop).filter(batch__in=[batch.pk for batch in here])
    return {(bar.batch_id, bar.letter.casefold()): bar for bar in known} | bring_sample_bars(
        workshop=work.workshop, labels=labels, at=work.at
    )


def _write_readings(work: Work, placed: Sequence[_Placed]) -> list[Reading]:
    """Write the weighings; those of batches that still cure are asked about as any other."""
    curing = {batch.pk for batch, _bar, _weight in placed if batch.state == Batch.State.CURING}
    remembered = Remembered(workshop=work.workshop, batch_ids=curing, scale_ids=()) if curing else None
    doubts: dict[int, DoubtFound | None] = {}
    for index in sorted(range(len(placed)), key=lambda index: (placed[index][2].weighed.moment, index)):
        batch, bar, weight = placed[index]
        if remembered is None or batch.pk not in curing:
            continue
        found, plan = weight.weighed, weight.weighed.plan
        doubts[index] = remembered.doubt_about(
            bar, weight_g=plan.weight_g, moment=found.moment, scale=None, typed="", unit=work.workshop.unit
        )
    entries = [
        (
            bar,
            ReadingEntry(
                client_id=weight.client_id,
                moment=weight.weighed.moment,
                weight_g=weight.weighed.plan.weight_g,
                scale=None,
                source=Reading.Source.IMPORT,
                firmness=weight.weighed.plan.firmness,
            ),
            doubts.get(index),
        )
        for index, (_batch, bar, weight) in enumerate(placed)
    ]
    return record_readings(actor=work.actor, entries=entries, at=work.at)
