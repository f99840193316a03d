"""The only writer of forecasts, of what they are learnt from, and of what a workshop goes by."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from curehouse.common.claims import claim
from curehouse.common.locking import lock_rows
from curehouse.common.nudges import nudge
from curehouse.common.steps import A_STEP, in_steps
from curehouse.curing.models import Cure, CureCalibration, CureLearning, CurePrior, CureRecord, Forecast
from curehouse.curing.services.cures import lock_cure
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

LEARN_TASK = "jobs.learn"
# Longer than the longest history takes, so that a lease that ran out means a dead worker.
LEASE = timedelta(minutes=10)


@transaction.atomic
def keep_records(*, workshop: Workshop, contents: Mapping[str, Any]) -> dict[str, CureRecord]:
    """Write the records (by fingerprint) that are not here yet, and return them all."""
    rows = [CureRecord(workshop=workshop, fingerprint=key, content=content) for key, content in sorted(contents.items())]
    # Whoever wrote one meanwhile wrote the same.
    CureRecord.unscoped.bulk_create(rows, batch_size=A_STEP, ignore_conflicts=True)
    found: dict[str, CureRecord] = {}
    for part in in_steps(sorted(contents)):
        found |= {row.fingerprint: row for row in CureRecord.objects.within(workshop).filter(fingerprint__in=part)}
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
    row = CureLearning.objects.within(workshop).select_related("calibration").first()
    if row is None:
        CureLearning.unscoped.bulk_create([CureLearning(workshop=workshop)], ignore_conflicts=True)
        row = CureLearning.objects.within(workshop).select_related("calibration").get()
    return row


@transaction.atomic
def want_learning(*, workshop: Workshop, at: datetime) -> None:
    """Let the worker learn anew from the workshop's cures, and foretell what is to be foretold anew by that."""
    row = learning_of(workshop)
    CureLearning.objects.within(workshop).filter(pk=row.pk).update(wanted_at=at)
    nudge(LEARN_TASK, workshop.pk)


def claim_learning(*, workshop: Workshop, at: datetime) -> CureLearning | None:
    """Claim a workshop's learning, or return None where somebody is at it."""
    row = learning_of(workshop)
    if not claim(CureLearning.objects.within(workshop).filter(pk=row.pk), at=at, lease=LEASE):
        return None
    return learning_of(workshop)


@transaction.atomic
def end_learning(
    *,
    learning: CureLearning,
    stages: Sequence[Sequence[Any]],
    calibration: CureCalibration | None,
    fingerprint: str,
    at: datetime,
) -> CureLearning:
    """Note what the workshop goes by from now on; what was wanted meanwhile stays wanted."""
    row = lock_rows(CureLearning.unscoped.all(), [learning.pk])[learning.pk]
    if row.wanted_at is not None and (learning.wanted_at is None or row.wanted_at <= learning.wanted_at):
        row.wanted_at = None
    row.stages, row.calibration, row.fingerprint = [list(stage) for stage in stages], calibration, fingerprint
    row.learnt_at, row.claimed_until = at, None
    row.save(update_fields=["wanted_at", "stages", "calibration", "fingerprint", "learnt_at", "claimed_until"])
    logger.info("learnt: workshop=%s stages=%s", row.workshop_id, len(row.stages))
    return row


def give_up_learning(learning: CureLearning) -> None:
    """Let others try: a fault is to come again at the next wish, not at every tick."""
    CureLearning.unscoped.filter(pk=learning.pk).update(claimed_until=None, wanted_at=None)


@transaction.atomic
def note_records(*, workshop: Workshop, record_of: Mapping[int, CureRecord]) -> None:
    """Note by cure which record is the newest of its weighings."""
    for keys in in_steps(sorted(record_of)):
        rows = lock_rows(Cure.objects.within(workshop), keys)
        for key, row in rows.items():
            row.record = record_of[key]
        Cure.unscoped.bulk_update(rows.values(), ["record"], batch_size=A_STEP)


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


@transaction.atomic
def answer_with_forecast(
    *, workshop: Workshop, batch_id: int, wanted_at: datetime | None, entry: ForecastEntry | None, at: datetime
) -> Cure | None:
    """Let a cure go by a forecast (by none where it cannot be forecast), written unless it is here already.

    Returns the cure, locked, or None where the batch is gone or there was news since *wanted_at*: then its
    forecast is still wanted.
    """
    cure = lock_cure(workshop=workshop, batch_id=batch_id)
    if cure is None or cure.ended_at is not None or cure.forecast_wanted_at != wanted_at:
        return None
    cure.forecast_wanted_at = None
    cure.forecast = None if entry is None else _kept(cure, entry, at=at)
    if entry is not None:
        cure.record = entry.record
    cure.save(update_fields=["forecast_wanted_at", "forecast", "record"])
    return cure


def _kept(cure: Cure, entry: ForecastEntry, *, at: datetime) -> Forecast:
    known = Forecast.objects.within(cure.workshop).filter(batch=cure.batch_id, fingerprint=entry.fingerprint).first()
    if known is not None:
        return known
    return Forecast.unscoped.create(
        workshop_id=cure.workshop_id, batch_id=cure.batch_id, moment=entry.moment, method=entry.method,
        fingerprint=entry.fingerprint, record=entry.record, beside=entry.beside, room=entry.room, prior=entry.prior,
        calibration=entry.calibration, asked=entry.asked, foretold=entry.foretold, written_at=at,
    )  # fmt: skip


def put_off_forecast(*, workshop: Workshop, batch_id: int, at: datetime) -> None:
    """Let a forecast that failed wait behind all others."""
    Cure.objects.within(workshop).filter(batch=batch_id, forecast_wanted_at__isnull=False).update(forecast_wanted_at=at)
