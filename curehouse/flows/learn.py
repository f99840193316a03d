"""What a workshop's own cures teach: learnt each night, and after many came in, from what changed alone.

Everything that was learnt stands under the fingerprint of what it was learnt from, so a night that finds the same
cures learns nothing, and one that is cut off goes on where it stood.
"""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.calibrating import calibrated
from curehouse.core.cure.forecast.in_order import Stage, stages, taught_by
from curehouse.core.cure.forecast.kept import VERSION, fingerprint, print_of_calibration, print_of_prior
from curehouse.core.cure.forecast.prior import Prior, cold_prior
from curehouse.curing.doubts import USUAL_STEP_G
from curehouse.curing.foretelling import house_rule, records_of, weighed_batch
from curehouse.curing.models import Cure, CureCalibration, CureLearning, CurePrior, CureRecord
from curehouse.curing.services.forecasts import (
    claim_learning,
    end_learning,
    give_up_learning,
    keep_calibration,
    keep_prior,
    keep_records,
    note_records,
)
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

# The newest cures that ended teach; those before them were made another way, and cost as much.
MOST_HISTORY = 400
_READ_AT_ONCE = 100


@dataclass(frozen=True, slots=True)
class Known:
    """The cures a workshop learns from: those that ended, oldest first, and those that go on."""

    history: Sequence[CureRecord]
    current: Sequence[CureRecord]

    @property
    def fingerprint(self) -> str:
        """Return the fingerprint of all of it."""
        return fingerprint([[row.fingerprint for row in rows] for rows in (self.history, self.current)])


def catch_up_records(*, workshop: Workshop) -> None:
    """Write the records of weighed cures that have none yet: of those that came in from a file."""
    while True:
        cures = Cure.objects.within(workshop).filter(record__isnull=True, last_reading__isnull=False)
        part = list(cures.select_related("batch__formula").order_by("-pk")[:_READ_AT_ONCE])
        contents = records_of(workshop, [cure.batch for cure in part])
        prints = {key: fingerprint(content) for key, content in contents.items()}
        rows = keep_records(workshop=workshop, contents={prints[key]: content for key, content in contents.items()})
        noted = {cure.pk: rows[prints[cure.batch_id]] for cure in part if cure.batch_id in prints}
        note_records(workshop=workshop, record_of=noted)
        # What cannot be forecast keeps no record, and is not asked for again and again.
        if len(noted) < _READ_AT_ONCE:
            return


def known_of(workshop: Workshop) -> Known:
    """Return the cures that teach."""
    cures = Cure.objects.within(workshop).filter(record__isnull=False).select_related("record")
    ended = cures.filter(ended_at__isnull=False).order_by("-batch__cut_at", "-batch_id")[:MOST_HISTORY]
    going_on = cures.filter(ended_at__isnull=True).order_by("batch__cut_at", "batch_id")
    return Known([cure.record for cure in reversed(ended)], [cure.record for cure in going_on])


def _step_g(known: Known) -> float:
    """Return the step of most cures' scales."""
    steps = [row.content["step_g"] for row in (*known.history, *known.current)]
    return max(set(steps), key=lambda step: (steps.count(step), step)) if steps else USUAL_STEP_G


def learn_anew(*, workshop: Workshop, at: datetime) -> bool:
    """Learn what is new; return whether anything was. Somebody else at it is as good."""
    learning = claim_learning(workshop=workshop, at=at)
    if learning is None:
        return False
    done = False
    try:
        was = learning.fingerprint
        row = _learnt(workshop, learning, at=at)
        done = True
        return row.fingerprint != was
    finally:
        if not done:
            give_up_learning(learning)


def _learnt(workshop: Workshop, learning: CureLearning, *, at: datetime) -> CureLearning:
    catch_up_records(workshop=workshop)
    known, rule = known_of(workshop), house_rule(workshop)
    whole = fingerprint([VERSION, known.fingerprint, rule.as_plain()])
    if whole == learning.fingerprint:
        return end_learning(
            learning=learning, stages=learning.stages, calibration=learning.calibration, fingerprint=whole, at=at
        )  # fmt: skip
    step_g = _step_g(known)
    history, current = ([weighed_batch(row.content) for row in rows] for rows in (known.history, known.current))
    found: list[list[Any]] = []
    before: CurePrior | None = None
    for stage in stages(history, current):
        before = _prior_of(workshop, stage, before, step_g=step_g, at=at)
        found.append([None if not found else stage.begin, before.pk])
    calibration = _calibration(workshop, history, rule, step_g=step_g, at=at)
    logger.info("cures read: workshop=%s ended=%s going_on=%s", workshop.pk, len(history), len(current))
    return end_learning(learning=learning, stages=found, calibration=calibration, fingerprint=whole, at=at)


def _prior_of(workshop: Workshop, stage: Stage, before: CurePrior | None, *, step_g: float, at: datetime) -> CurePrior:
    key = print_of_prior(stage.teaching, step_g=step_g, earlier=before and before.fingerprint)
    known = CurePrior.objects.within(workshop).filter(fingerprint=key).first()
    if known is not None:
        return known
    earlier = None if before is None else Prior.from_plain(before.prior)
    prior = taught_by(stage, step_g=step_g, earlier=earlier)
    return keep_prior(
        workshop=workshop, fingerprint=key, method=VERSION, prior=prior.as_plain(), cures=prior.learnt_from, at=at
    )  # fmt: skip


def _calibration(
    workshop: Workshop, history: Sequence[WeighedBatch], rule: ForecastRule, *, step_g: float, at: datetime
) -> CureCalibration:
    key = print_of_calibration(history, rule, step_g=step_g)
    known = CureCalibration.objects.within(workshop).filter(fingerprint=key).first()
    if known is not None:
        return known
    found = calibrated(history, cold_prior(), rule, step_g=step_g)
    return keep_calibration(workshop=workshop, fingerprint=key, method=VERSION, calibration=found.as_plain(), at=at)
