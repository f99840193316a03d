"""What the house makes of a batch: a verdict as of each weighing and each morning, and who is told.

The state of a batch, the verdict it follows and the notices that change with it are written in one
transaction under the lock of its cure. Many weighings that came at once are assessed in slices before
that, so that others may write in between. Run twice, it finds nothing left to do.
"""

import logging
from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from curehouse.common.errors import FAULTS
from curehouse.common.time import local_day, local_moment
from curehouse.curing.adapter import BatchRows, batch_rows, verdict_at
from curehouse.curing.models import Assessment, Cure
from curehouse.curing.services.cures import lock_cure, newest_moment, settle, unassessed_readings, write_assessment
from curehouse.flows.verdict_notices import tell_of_change, tell_of_check
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

Cause = Assessment.Cause

# Verdicts a transaction: on SQLite it holds the only write lock, and a verdict on a long record takes 10 ms.
MOST_VERDICTS = 20


def _write(
    cure: Cure, rows: BatchRows, *, cause: str, moment: datetime, at: datetime, reading_id: int | None = None
) -> Assessment | None:
    verdict = verdict_at(rows, cure.workshop, moment=moment, reading_id=reading_id)
    return write_assessment(cure=cure, verdict=verdict, cause=cause, moment=moment, reading_id=reading_id, at=at)


def _catch_up(cure: Cure, rows: BatchRows, *, at: datetime) -> None:
    """Assess as of every weighing not yet assessed, then as things stand if that is later news."""
    fresh = unassessed_readings(cure)
    last_moment = newest_moment(cure, at=at)
    for reading in fresh:
        moment = max(reading.moment, cure.batch.cut_at)
        _write(cure, rows, cause=Cause.READING, moment=moment, at=at, reading_id=reading.pk)
    said = [reading.moment for reading in fresh]
    news = [check for check in rows.checks[:1] if cure.assessment is None or check.written_at >= cure.assessment.written_at]
    as_of = max([*said, *[check.at for check in rows.checks[:1]], *([last_moment] if last_moment else [])], default=at)
    if said and said[-1] == as_of:
        return
    _write(cure, rows, cause=Cause.CHECK if news else Cause.REVIEW, moment=max(as_of, cure.batch.cut_at), at=at)


def _settled(cure: Cure, rows: BatchRows, *, at: datetime) -> Assessment | None:
    shown_before = cure.shown_as
    changed = settle(cure=cure, at=at)
    failure_told = tell_of_check(cure=cure, checks=rows.checks, at=at)
    if changed or cure.shown_as != shown_before:
        tell_of_change(cure=cure, at=at, failure_told=failure_told)
    return cure.assessment


def _assess_slices(*, workshop: Workshop, batch_id: int, at: datetime) -> None:
    """Assess as of the oldest fresh weighings, a slice a transaction, until one slice or less is left.

    The verdicts are computed before the lock is taken. What is written to the batch meanwhile wants an
    assessment of its own, and the last step gives it: the news stays wanted until then.
    """
    while True:
        cure = Cure.objects.within(workshop).select_related("batch__formula").filter(batch_id=batch_id).first()
        if cure is None or cure.assess_wanted_at is None or cure.ended_at is not None:
            return
        fresh = unassessed_readings(cure)
        if len(fresh) <= MOST_VERDICTS:
            return
        rows = batch_rows(cure.batch)
        moments = [(max(reading.moment, cure.batch.cut_at), reading.pk) for reading in fresh[:MOST_VERDICTS]]
        verdicts = [(verdict_at(rows, workshop, moment=moment, reading_id=key), moment, key) for moment, key in moments]
        with transaction.atomic():
            locked = lock_cure(workshop=workshop, batch_id=batch_id)
            if locked is None or locked.ended_at is not None:
                return
            for verdict, moment, key in verdicts:
                write_assessment(cure=locked, verdict=verdict, cause=Cause.READING, moment=moment, reading_id=key, at=at)


def assess_batch(*, workshop_id: int, batch_id: int, at: datetime) -> Assessment | None:
    """Answer the news about one batch; None where there is none or the batch is gone."""
    workshop = Workshop.objects.filter(pk=workshop_id).first()
    if workshop is None:
        return None
    _assess_slices(workshop=workshop, batch_id=batch_id, at=at)
    return _answer(workshop=workshop, batch_id=batch_id, at=at)


@transaction.atomic
def _answer(*, workshop: Workshop, batch_id: int, at: datetime) -> Assessment | None:
    cure = lock_cure(workshop=workshop, batch_id=batch_id)
    if cure is None or cure.assess_wanted_at is None or cure.ended_at is not None:
        return None
    cure.workshop = workshop
    rows = batch_rows(cure.batch)
    _catch_up(cure, rows, at=at)
    return _settled(cure, rows, at=at)


@transaction.atomic
def assess_quietly(*, workshop: Workshop, batch_ids: Iterable[int], at: datetime) -> None:
    """Give batches that were brought in their one verdict, as of their last weighing, and send it to nobody.

    What a file brings is past: it stands on Today, and only what changes later leaves the house.
    """
    for batch_id in sorted(batch_ids):
        cure = lock_cure(workshop=workshop, batch_id=batch_id)
        if cure is None or cure.ended_at is not None or cure.last_reading is None:
            continue
        cure.workshop = workshop
        last = cure.last_reading
        moment = max(last.moment, cure.batch.cut_at)
        _write(cure, batch_rows(cure.batch), cause=Cause.READING, moment=moment, at=at, reading_id=last.pk)
        if settle(cure=cure, at=at):
            tell_of_change(cure=cure, at=at, sends=False)


def assess_this_morning(*, workshop: Workshop, batch_id: int, at: datetime) -> Assessment | None:
    """Assess one batch as of this morning, once."""
    _assess_slices(workshop=workshop, batch_id=batch_id, at=at)
    return _look(workshop=workshop, batch_id=batch_id, at=at)


@transaction.atomic
def _look(*, workshop: Workshop, batch_id: int, at: datetime) -> Assessment | None:
    cure = lock_cure(workshop=workshop, batch_id=batch_id)
    if cure is None or cure.ended_at is not None:
        return None
    cure.workshop = workshop
    rows = batch_rows(cure.batch)
    if cure.assess_wanted_at is not None:
        _catch_up(cure, rows, at=at)
    morning = local_moment(local_day(at, workshop.time_zone), workshop.morning_at, workshop.time_zone)
    moment = max(min(morning, at), cure.batch.cut_at)
    _write(cure, rows, cause=Cause.MORNING, moment=moment, at=at)
    return _settled(cure, rows, at=at)


def assess_all_this_morning(*, workshop: Workshop, at: datetime) -> int:
    """Assess every batch in cure as of this morning, each in a transaction of its own."""
    batches = list(Cure.objects.within(workshop).going_on().values_list("batch_id", flat=True))
    for batch_id in batches:
        try:
            assess_this_morning(workshop=workshop, batch_id=batch_id, at=at)
        except FAULTS:
            # One batch the rule cannot judge must not keep the others, and the digest, waiting.
            logger.exception("not assessed this morning: workshop=%s batch=%s", workshop.pk, batch_id)
    return len(batches)
