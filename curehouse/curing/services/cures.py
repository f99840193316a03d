"""The only writer of cures and assessments; when a batch is to be weighed next."""

import logging
from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Max, Q

from curehouse.common.locking import lock_rows
from curehouse.common.nudges import nudge
from curehouse.common.time import CLOCK_SLACK, first_day_of, local_day
from curehouse.core.cure.rule import Verdict
from curehouse.curing.adapter import verdict_fields
from curehouse.curing.models import Assessment, Cure, Reading, SampleBar
from curehouse.curing.queries.verdicts import AssessmentQuerySet
from curehouse.curing.queries.weighing import ASKED, COUNTS
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

# A week between weighings, give or take the round's weekday (common practice, no source).
FEWEST_DAYS_BETWEEN = 5
ASSESS_TASK = "jobs.assess"
TICK_TASK = "jobs.tick"
FORETELL_TASK = "jobs.foretell"
# For more batches than this the tick is nudged instead: one message, and the worker finds them all.
MOST_NUDGES = 5


def next_due_on(*, batch: Batch, workshop: Workshop, last_weighed_at: datetime | None) -> date | None:
    """Return the day of the next weighing: the cut's own, then round days at least five days apart."""
    if batch.cut_at is None or batch.state != Batch.State.CURING:
        return None
    if last_weighed_at is None:
        return local_day(batch.cut_at, workshop.time_zone)
    earliest = local_day(last_weighed_at, workshop.time_zone) + timedelta(days=FEWEST_DAYS_BETWEEN)
    return first_day_of(workshop.round_days, from_day=earliest)


@transaction.atomic
def open_cure(*, batch: Batch, workshop: Workshop) -> Cure:
    """Begin the cure of a batch that was cut: it is to be weighed on that very day."""
    return Cure.unscoped.create(
        workshop=workshop,
        batch=batch,
        state_since=batch.cut_at,
        due_on=next_due_on(batch=batch, workshop=workshop, last_weighed_at=None),
    )


def lock_cure(*, workshop: Workshop, batch_id: int) -> Cure | None:
    """Return the batch's cure, locked until the transaction ends, or None."""
    keys = Cure.objects.within(workshop).filter(batch_id=batch_id).values_list("pk", flat=True)
    return next(iter(lock_rows(Cure.unscoped.select_related("batch__formula"), keys).values()), None)


def _newest_reading(batch: Batch) -> Reading | None:
    return (
        Reading.objects.within(batch.workshop)
        .filter(bar__batch=batch)
        .with_standing()
        .filter(standing__in=[COUNTS, ASKED])
        .newest_first()
        .first()
    )


@transaction.atomic
def note_news(*, workshop: Workshop, batch_id: int, at: datetime) -> None:
    """Note that a batch's record changed: when it was weighed last, is due next, wants assessing."""
    cure = lock_cure(workshop=workshop, batch_id=batch_id)
    if cure is None:
        return
    if cure.ended_at is not None:
        _want_to_be_read(cure, at=at)
        return
    newest = _newest_reading(cure.batch)
    cure.last_reading = newest
    cure.last_weighed_at = newest.moment if newest else None
    cure.due_on = _due_of(cure, workshop)
    told_already = cure.assess_wanted_at is not None
    cure.assess_wanted_at = cure.forecast_wanted_at = at
    cure.save(update_fields=["last_reading", "last_weighed_at", "due_on", "assess_wanted_at", "forecast_wanted_at"])
    # News on news: a nudge is on its way already, and the assessment it brings answers both.
    if not told_already:
        nudge(ASSESS_TASK, workshop.pk, batch_id)
        nudge(FORETELL_TASK, workshop.pk)


def _want_to_be_read(cure: Cure, *, at: datetime) -> None:
    """Let what is known of a cure (locked) that ended be read anew, before the house learns from it again."""
    cure.forecast_wanted_at = at
    cure.save(update_fields=["forecast_wanted_at"])


def put_off_assessment(*, batch_id: int, at: datetime) -> None:
    """Let the news about a batch wait behind all that came before *at*; answered news stays answered."""
    Cure.unscoped.filter(batch_id=batch_id, assess_wanted_at__isnull=False).update(assess_wanted_at=at)


@transaction.atomic
def note_news_of(*, workshop: Workshop, batch_ids: Iterable[int], at: datetime) -> None:
    """Note the news of many batches at once: what is read is read in one query for all of them."""
    wanted = Cure.objects.within(workshop).filter(batch__in=batch_ids).values_list("pk", flat=True)
    rows = lock_rows(Cure.unscoped.select_related("batch__formula"), wanted).values()
    for cure in rows:
        if cure.ended_at is not None:
            _want_to_be_read(cure, at=at)
    cures = [cure for cure in rows if cure.ended_at is None]
    batches = [cure.batch_id for cure in cures]
    weighed = Reading.objects.within(workshop).of_batches(batches).newest_of_each_batch()
    newest = {batch_id: (key, moment) for batch_id, key, moment in weighed.values_list("bar__batch_id", "pk", "moment")}
    on_the_rack = SampleBar.objects.within(workshop).filter(batch__in=batches, ended_at__isnull=True)
    weighing = set(on_the_rack.values_list("batch_id", flat=True))
    for cure in cures:
        cure.last_reading_id, cure.last_weighed_at = newest.get(cure.batch_id, (None, None))
        due = next_due_on(batch=cure.batch, workshop=workshop, last_weighed_at=cure.last_weighed_at)
        cure.due_on = due if cure.batch_id in weighing else None
        cure.assess_wanted_at = cure.forecast_wanted_at = at
        cure.save(update_fields=["last_reading", "last_weighed_at", "due_on", "assess_wanted_at", "forecast_wanted_at"])
    if len(batches) > MOST_NUDGES:
        nudge(TICK_TASK)
        return
    if batches:
        nudge(FORETELL_TASK, workshop.pk)
    for batch_id in batches:
        nudge(ASSESS_TASK, workshop.pk, batch_id)


def _due_of(cure: Cure, workshop: Workshop) -> date | None:
    if not SampleBar.objects.within(workshop).filter(batch=cure.batch, ended_at__isnull=True).exists():
        return None
    return next_due_on(batch=cure.batch, workshop=workshop, last_weighed_at=cure.last_weighed_at)


@transaction.atomic
def reckon_due_days(*, workshop: Workshop) -> int:
    """Reckon every due day anew, after the round days or the time zone changed."""
    going_on = Cure.objects.within(workshop).filter(ended_at__isnull=True).values_list("pk", flat=True)
    cures = lock_rows(Cure.unscoped.select_related("batch"), going_on).values()
    weighing = set(SampleBar.objects.within(workshop).filter(ended_at__isnull=True).values_list("batch_id", flat=True))
    for cure in cures:
        due = next_due_on(batch=cure.batch, workshop=workshop, last_weighed_at=cure.last_weighed_at)
        cure.due_on = due if cure.batch_id in weighing else None
    return Cure.unscoped.bulk_update(cures, ["due_on"], batch_size=200)


@transaction.atomic
def end_cure(*, cure: Cure, at: datetime) -> Cure:
    """End a cure: its bars are gone, weighing ends. What is known of it is read once more, whole."""
    cure.ended_at, cure.due_on, cure.assess_wanted_at, cure.forecast_wanted_at = at, None, None, at
    cure.save(update_fields=["ended_at", "due_on", "assess_wanted_at", "forecast_wanted_at"])
    SampleBar.objects.within(cure.workshop).filter(batch=cure.batch, ended_at__isnull=True).update(
        ended_at=at, ended_why="the batch was taken out"
    )
    return cure


def write_assessment(
    *, cure: Cure, verdict: Verdict, cause: str, moment: datetime, reading_id: int | None, at: datetime
) -> Assessment | None:
    """Write a verdict, or return None where this weighing or this morning has one already."""
    once = {
        Assessment.Cause.READING: Q(cause=Assessment.Cause.READING, reading_id=reading_id),
        Assessment.Cause.MORNING: Q(cause=Assessment.Cause.MORNING, batch=cure.batch, moment=moment),
    }
    if cause in once and Assessment.objects.within(cure.workshop).filter(once[cause]).exists():
        return None
    return Assessment.unscoped.create(
        workshop=cure.workshop,
        batch=cure.batch,
        moment=moment,
        cause=cause,
        reading_id=reading_id,
        written_at=at,
        **verdict_fields(verdict),
    )


def unassessed_readings(cure: Cure) -> list[Reading]:
    """Return the weighings no assessment speaks of yet, in the order they were made.

    Weighings that were brought in from a file are past: the import had its one assessment.
    """
    answered = Assessment.objects.within(cure.workshop).filter(batch=cure.batch, reading__isnull=False).values("reading")
    return list(
        Reading.objects.within(cure.workshop)
        .filter(bar__batch=cure.batch)
        .exclude(source=Reading.Source.IMPORT)
        .exclude(pk__in=answered)
        .order_by("moment", "pk")
    )


def newest_moment(cure: Cure, *, at: datetime) -> datetime | None:
    """Return the moment the newest assessment of the batch speaks of."""
    return _assessments(cure, at=at).aggregate(at=Max("moment"))["at"]


def _assessments(cure: Cure, *, at: datetime) -> AssessmentQuerySet:
    """Return the batch's assessments; one of a day to come was made by a clock that was wrong for a while."""
    return Assessment.objects.within(cure.workshop).filter(batch=cure.batch, moment__lte=at + CLOCK_SLACK)


@transaction.atomic
def settle(*, cure: Cure, at: datetime) -> bool:
    """Let the cure (locked) stand where its newest assessment says; return whether its state changed."""
    newest = _assessments(cure, at=at).newest_first().first()
    cure.assess_wanted_at = None
    changed = newest is not None and newest.state != cure.state
    if newest is not None:
        cure.assessment = newest
    if changed:
        cure.state, cure.state_since, cure.episode = newest.state, newest.moment, cure.episode + 1
        logger.info("cure changed: workshop=%s batch=%s state=%s", cure.workshop_id, cure.batch_id, cure.state)
    cure.save(update_fields=["assess_wanted_at", "assessment", "state", "state_since", "episode"])
    return changed
