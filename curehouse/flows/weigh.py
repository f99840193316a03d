"""A weighing comes in: asked about if doubtful, written, and the batch is to be assessed."""

from datetime import datetime

from django.db import transaction

from curehouse.curing.doubts import Beside, DoubtFound, beside, doubt_about, tares_on, without
from curehouse.curing.models import Reading, ReadingReview, SampleBar
from curehouse.curing.services.cures import note_news
from curehouse.curing.services.readings import (
    ReadingEntry,
    correct_reading,
    find_sent,
    record_reading,
    review_reading,
)
from curehouse.flows.due import renew_due
from curehouse.making.services import lock_batch
from curehouse.workshops.actors import Actor


def _weighed(actor: Actor, bar: SampleBar, *, at: datetime) -> None:
    note_news(workshop=actor.workshop, batch_id=bar.batch_id, at=at)
    renew_due(workshop=actor.workshop, at=at, batch_ids=[bar.batch_id], was_weighed=True)


def _asked(around: Beside, entry: ReadingEntry) -> DoubtFound | None:
    return doubt_about(
        around,
        weight_g=entry.weight_g,
        moment=entry.moment,
        scale=entry.scale,
        tares=tares_on(entry.scale),
        typed=entry.typed,
        unit=entry.unit,
    )


@transaction.atomic
def weigh(*, actor: Actor, bar: SampleBar, entry: ReadingEntry, at: datetime) -> tuple[Reading, bool]:
    """Write a weighing; return it and whether it is new (the same one sent again is not)."""
    lock_batch(bar.batch)
    earlier = find_sent(actor=actor, bar=bar, entry=entry)
    if earlier is not None:
        return earlier, False
    doubt = _asked(beside(bar), entry)
    reading = record_reading(actor=actor, bar=bar, entry=entry, doubt=doubt, at=at)
    _weighed(actor, bar, at=at)
    return reading, True


@transaction.atomic
def correct(*, actor: Actor, reading: Reading, entry: ReadingEntry, at: datetime) -> tuple[Reading, bool]:
    """Write the weighing that stands in for *reading*, asked about in its turn unless it is the guess."""
    bar = reading.bar
    lock_batch(bar.batch)
    earlier = find_sent(actor=actor, bar=bar, entry=entry)
    if earlier is not None:
        return earlier, False
    doubt = None
    if entry.weight_g != reading.doubt_guess_g:
        doubt = _asked(without(beside(bar), reading, moment=entry.moment), entry)
    row = correct_reading(actor=actor, reading=reading, entry=entry, doubt=doubt, at=at)
    _weighed(actor, bar, at=at)
    return row, True


@transaction.atomic
def keep(*, actor: Actor, reading: Reading, at: datetime) -> ReadingReview:
    """Keep a doubtful weighing as it is: from now on the verdict counts it."""
    lock_batch(reading.bar.batch)
    review = review_reading(actor=actor, reading=reading, decision=ReadingReview.Decision.KEPT, reason="", at=at)
    note_news(workshop=actor.workshop, batch_id=reading.bar.batch_id, at=at)
    return review


@transaction.atomic
def strike(*, actor: Actor, reading: Reading, reason: str, at: datetime) -> ReadingReview:
    """Strike a weighing out: it stays on record and counts no more."""
    lock_batch(reading.bar.batch)
    review = review_reading(actor=actor, reading=reading, decision=ReadingReview.Decision.STRUCK, reason=reason, at=at)
    note_news(workshop=actor.workshop, batch_id=reading.bar.batch_id, at=at)
    # It may have been all that was weighed on the day: then the batch is due again.
    renew_due(workshop=actor.workshop, at=at, batch_ids=[reading.bar.batch_id])
    return review
