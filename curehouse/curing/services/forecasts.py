"""The only writer of forecasts, of what they are learnt from, and of what a workshop goes by."""

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import DateTimeField, Value
from django.db.models.functions import Coalesce

from curehouse.common.claims import claim
from curehouse.common.locking import lock_rows
from curehouse.common.nudges import nudge
from curehouse.common.steps import A_STEP, in_steps
from curehouse.curing.models import Cure, CureCalibration, CureLearning, CurePrior, CureRecord, Forecast
from curehouse.curing.queries.verdicts import CureQuerySet
from curehouse.making.models import Formula
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

LEARN_TASK = "jobs.learn"
# Longer than the longest history takes, so that a lease that ran out means a dead worker.
LEASE = timedelta(minutes=10)


@transaction.atomic
def keep_records(*, workshop: Workshop, contents: Mapping[str, Any]) -> dict[str, CureRecord]:
    """Write the records (by fingerprint) that are not here yet, and return them all."""
    found = _records(workshop, contents)
    rows = [
        CureRecord(workshop=workshop, fingerprint=key, content=contents[key]) for key in sorted(contents) if key not in found
    ]
    # Whoever wrote one meanwhile wrote the same.
    CureRecord.unscoped.bulk_create(rows, batch_size=A_STEP, ignore_conflicts=True)
    return found | _records(workshop, {row.fingerprint: row.content for row in rows})


def _records(workshop: Workshop, contents: Mapping[str, Any]) -> dict[str, CureRecord]:
    """Return those that are here; what stands in them is what was given, and is not read again: five years of a log is long."""
    found: dict[str, CureRecord] = {}
    for part in in_steps(sorted(contents)):
        for row in CureRecord.objects.within(workshop).filter(fingerprint__in=part).defer("content"):
            row.content = contents[row.fingerprint]
            found[row.fingerprint] = row
    return found


@transaction.atomic
def keep_prior(
    *, workshop: Workshop, fingerprint: str, method: str, prior: dict[str, Any], cures: int, at: datetime
) -> CurePrior:
    """Write what was learnt under the next version, or return it where it was learnt before."""
    lock_rows(CureLearning.objects.within(workshop), CureLearning.objects.within(workshop).values_list("pk", flat=True))
    known = CurePrior.objects.within(workshop).filter(fingerprint=fingerprint).first()
    if known is not None:
        return known
    last = CurePrior.objects.within(workshop).order_by("-version").values_list("version", flat=True).first() or 0
    return CurePrior.unscoped.create(
        workshop=workshop, version=last + 1, fingerprint=fingerprint, method=method, prior=prior, cures=cures, learnt_at=at
    )  # fmt: skip


@transaction.atomic
def keep_calibration(
    *, workshop: Workshop, fingerprint: str, method: str, calibration: dict[str, Any], at: datetime
) -> CureCalibration:
    """Write by how much ranges are to be widened, or return it where it was found before."""
    row = CureCalibration(
        workshop=workshop, fingerprint=fingerprint, method=method, calibration=calibration, found_at=at
    )  # fmt: skip
    CureCalibration.unscoped.bulk_create([row], ignore_conflicts=True)
    return CureCalibration.objects.within(workshop).get(fingerprint=fingerprint)


def learning_of(workshop: Workshop) -> CureLearning:
    """Return what a workshop goes by; a row that says nothing where it has learnt nothing yet."""
    row = CureLearning.objects.within(workshop).select_related("calibration", "logged_calibration").first()
    if row is None:
        CureLearning.unscoped.bulk_create([CureLearning(workshop=workshop)], ignore_conflicts=True)
        row = CureLearning.objects.within(workshop).select_related("calibration", "logged_calibration").get()
    return row


@transaction.atomic
def want_learning(*, workshop: Workshop, at: datetime) -> None:
    """Let the worker learn anew from the workshop's cures, and foretell what is to be foretold anew by that."""
    row = learning_of(workshop)
    CureLearning.objects.within(workshop).filter(pk=row.pk).update(wanted_at=at)
    nudge(LEARN_TASK, workshop.pk)


def claim_learning(*, workshop: Workshop, at: datetime) -> CureLearning | None:
    """Claim a workshop's learning, or return None where somebody is at it.

    It is wanted until it ends, so that the tick finds it again where the worker dies.
    """
    row = learning_of(workshop)
    wanted_at = Coalesce("wanted_at", Value(at, output_field=DateTimeField()))
    if not claim(CureLearning.objects.within(workshop).filter(pk=row.pk), at=at, lease=LEASE, wanted_at=wanted_at):
        return None
    return learning_of(workshop)


@dataclass(frozen=True, slots=True)
class Learnt:
    """What was learnt: priors by the day from which they hold, and how wide ranges are."""

    stages: Sequence[Sequence[Any]]
    calibration: CureCalibration | None


@transaction.atomic
def end_learning(
    *,
    learning: CureLearning,
    learnt: tuple[Learnt, Learnt],
    fingerprint: str,
    at: datetime,
) -> None:
    """Note what the workshop goes by from now on, without the logs of rooms and with them.

    Where that is another, every forecast is wanted anew in the same transaction: a worker that dies after it leaves
    nothing unsaid. Whoever was at it for longer than the lease has no say once another is, or was.
    """
    if fingerprint != learning.fingerprint:
        weighed = Cure.unscoped.filter(workshop=learning.workshop_id, ended_at__isnull=True, last_reading__isnull=False)
        _want_all(weighed, at=at)
    row = lock_rows(CureLearning.unscoped.all(), [learning.pk])[learning.pk]
    if row.claimed_until != learning.claimed_until:
        logger.warning("learnt too late: workshop=%s", row.workshop_id)
        return
    plain, logged = learnt
    row.stages, row.calibration = [list(stage) for stage in plain.stages], plain.calibration
    row.logged_stages, row.logged_calibration = [list(stage) for stage in logged.stages], logged.calibration
    row.fingerprint, row.learnt_at = fingerprint, at
    _let_go(row, learning)
    logger.info("learnt: workshop=%s stages=%s", row.workshop_id, len(row.stages))


def _want_all(cures: CureQuerySet, *, at: datetime) -> None:
    """Let every forecast be made anew; also one that somebody is at, by what held before."""
    for keys in in_steps(lock_rows(Cure.unscoped.all(), cures.values_list("pk", flat=True))):
        Cure.unscoped.filter(pk__in=keys).update(forecast_wanted_at=at)


def _let_go(row: CureLearning, learning: CureLearning) -> None:
    """Write a row (locked) that was claimed as *learning*; what was wanted meanwhile stays wanted."""
    if row.wanted_at == learning.wanted_at:
        row.wanted_at = None
    row.claimed_until = None
    row.save()


@transaction.atomic
def give_up_learning(learning: CureLearning) -> None:
    """Let others try: a fault is to come again at the next wish, not at every tick."""
    row = lock_rows(CureLearning.unscoped.all(), [learning.pk])[learning.pk]
    if row.claimed_until == learning.claimed_until:
        _let_go(row, learning)


@transaction.atomic
def note_records(*, workshop: Workshop, read: Sequence[Cure], record_of: Mapping[int, CureRecord]) -> None:
    """Note by cure what is known of its weighings, as those that were read: of one without any, that nothing is.

    What changed meanwhile stays to be read; what a cure that goes on has by now, its forecast noted.
    """
    asked = {cure.pk: cure.forecast_wanted_at for cure in read}
    rows = lock_rows(Cure.objects.within(workshop), asked)
    for key, row in rows.items():
        if row.ended_at is None:
            row.record = row.record or record_of.get(key)
        elif row.forecast_wanted_at == asked[key]:
            row.record, row.forecast_wanted_at = record_of.get(key), None
    Cure.unscoped.bulk_update(rows.values(), ["record", "forecast_wanted_at"], batch_size=A_STEP)


@dataclass(frozen=True, slots=True)
class ForecastEntry:
    """A forecast to be written; ``foretold`` and ``asked`` in plain values, ``beside`` the keys of records."""

    moment: datetime
    method: str
    fingerprint: str
    record: CureRecord
    beside: list[int]
    room: CureRecord | None
    prior: CurePrior | None
    calibration: CureCalibration | None
    asked: dict[str, Any]
    foretold: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a wish of a moment is answered with: the forecast of a cure, or none where it cannot be forecast."""

    cure: int
    wanted_at: datetime | None
    entry: ForecastEntry | None


@transaction.atomic
def answer_with_forecasts(*, workshop: Workshop, answers: Sequence[Answer], at: datetime) -> list[Cure]:
    """Let cures (by their keys) go by their forecasts, each written unless it is here already.

    Returns those that do, locked. One that ended, or had news since its wish, is passed by: a forecast of it is
    still wanted. They are locked together, so a few at a time.
    """
    locked = lock_rows(Cure.objects.within(workshop), [one.cure for one in answers])
    answered = [
        one
        for one in answers
        if (cure := locked.get(one.cure)) is not None
        and cure.ended_at is None
        and cure.forecast_wanted_at == one.wanted_at
    ]  # fmt: skip
    entries = {one.cure: one.entry for one in answered if one.entry is not None}
    kept = _kept(workshop, {(locked[key].batch_id, entry.fingerprint): entry for key, entry in entries.items()}, at=at)
    read = []
    for one in answered:
        cure, entry = locked[one.cure], one.entry
        cure.forecast_wanted_at = None
        cure.forecast_id = None if entry is None else kept[cure.batch_id, entry.fingerprint]
        if entry is not None and cure.record_id != entry.record.pk:
            cure.record = entry.record
            read.append(cure)
    done = [locked[one.cure] for one in answered]
    # A night finds other forecasts of the same records: what is alike for all is written at once.
    for part in in_steps(done):
        Cure.unscoped.filter(pk__in=[cure.pk for cure in part]).update(forecast_wanted_at=None)
    Cure.unscoped.bulk_update(done, ["forecast"], batch_size=A_STEP)
    Cure.unscoped.bulk_update(read, ["record"], batch_size=A_STEP)
    return done


def _kept(workshop: Workshop, entries: Mapping[tuple[int, str], ForecastEntry], *, at: datetime) -> dict[tuple[int, str], int]:
    """Return the keys of forecasts by batch and fingerprint, written where they were not here yet.

    The batches' cures are locked, so nobody else writes the same meanwhile.
    """
    found: dict[tuple[int, str], int] = {}
    for part in in_steps(sorted({fingerprint for _, fingerprint in entries})):
        rows = Forecast.objects.within(workshop).filter(fingerprint__in=part).values_list("batch_id", "fingerprint", "pk")
        found |= {(batch_id, fingerprint): key for batch_id, fingerprint, key in rows}
    new = [
        Forecast(
            workshop=workshop, batch_id=batch_id, moment=entry.moment, method=entry.method,
            fingerprint=entry.fingerprint, record=entry.record, beside=entry.beside, room=entry.room, prior=entry.prior,
            calibration=entry.calibration, asked=entry.asked, foretold=entry.foretold, written_at=at,
        )
        for (batch_id, fingerprint), entry in entries.items()
        if (batch_id, fingerprint) not in found
    ]  # fmt: skip
    rows = Forecast.unscoped.bulk_create(new, batch_size=A_STEP)
    return found | {(row.batch_id, row.fingerprint): row.pk for row in rows}


def put_off_forecast(*, workshop: Workshop, batch_id: int, at: datetime) -> None:
    """Let a forecast that failed wait behind all others."""
    Cure.objects.within(workshop).filter(batch=batch_id, forecast_wanted_at__isnull=False).update(forecast_wanted_at=at)


@transaction.atomic
def want_forecasts(*, workshop: Workshop, batch_ids: Iterable[int], at: datetime) -> None:
    """Let the forecasts of batches in cure be made anew, unless they are to be already."""
    cures = Cure.objects.within(workshop).going_on().filter(last_reading__isnull=False, forecast_wanted_at__isnull=True)
    for keys in in_steps(sorted(batch_ids)):
        cures.filter(batch__in=keys).update(forecast_wanted_at=at)


@transaction.atomic
def read_formula_anew(*, workshop: Workshop, formula: Formula, at: datetime) -> None:
    """Let what is known of a formula's cures be read anew before anything is learnt: it is called otherwise now.

    Of a cure that goes on nothing is known meanwhile; it is foretold anew once that was learnt, so that no forecast
    of it goes by cures of another name.
    """
    cures = Cure.objects.within(workshop).filter(batch__formula=formula, last_reading__isnull=False)
    rows = lock_rows(Cure.unscoped.all(), cures.values_list("pk", flat=True)).values()
    for cure in rows:
        if cure.ended_at is None:
            cure.record = None
        else:
            cure.forecast_wanted_at = at
    Cure.unscoped.bulk_update(rows, ["record", "forecast_wanted_at"], batch_size=A_STEP)
    if rows:
        want_learning(workshop=workshop, at=at)


@transaction.atomic
def read_anew(*, workshop: Workshop, at: datetime) -> None:
    """Let all that is known of weighings be read anew, learnt from and foretold of: where they stood, or when days begin."""
    _want_all(Cure.objects.within(workshop).filter(last_reading__isnull=False), at=at)
    want_learning(workshop=workshop, at=at)
