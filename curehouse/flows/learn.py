"""What a workshop's own cures teach: learnt each night, and after many came in, from what changed alone.

Everything that was learnt stands under the fingerprint of what it was learnt from, so a night that finds the same
cures learns nothing, and one that is cut off goes on where it stood.
"""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from curehouse.common.time import local_day
from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.calibrating import replayed, wide_enough
from curehouse.core.cure.forecast.humidity import RoomLog, heard_part
from curehouse.core.cure.forecast.in_order import Stage, stages, taught_by
from curehouse.core.cure.forecast.kept import (
    KEPT_WITH,
    VERSION,
    Prints,
    fingerprint,
    plain_log,
    print_of_calibration,
    print_of_prior,
)
from curehouse.core.cure.forecast.learning import Memory
from curehouse.core.cure.forecast.prior import Prior, cold_prior
from curehouse.core.cure.forecast.told_again import told_again
from curehouse.curing.doubts import USUAL_STEP_G
from curehouse.curing.foretelling import house_rule, logs_of, records_of, weighed_batch
from curehouse.curing.models import Cure, CureCalibration, CureLearning, CurePrior, CureRecord, Room
from curehouse.curing.services.forecasts import (
    Learnt,
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
    """Write what is known of weighed cures of which nothing is yet, and of those that ended where it has changed."""
    wanting, last = Cure.objects.within(workshop).wanting_record().select_related("batch__formula").order_by("pk"), 0
    while part := list(wanting.filter(pk__gt=last)[:_READ_AT_ONCE]):
        contents = records_of(workshop, [cure.batch for cure in part])
        prints = {key: fingerprint(content) for key, content in contents.items()}
        rows = keep_records(workshop=workshop, contents={prints[key]: content for key, content in contents.items()})
        known = {cure.pk: rows[prints[cure.batch_id]] for cure in part if cure.batch_id in prints}
        note_records(workshop=workshop, read=part, record_of=known)
        last = part[-1].pk


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


def learn_anew(*, workshop: Workshop, at: datetime) -> None:
    """Learn what is new, and want all forecasts anew where anything was. Somebody else at it is as good."""
    learning = claim_learning(workshop=workshop, at=at)
    if learning is None:
        return
    try:
        _learn(workshop, learning, at=at)
    except Exception:
        give_up_learning(learning)
        raise


@dataclass(frozen=True, slots=True)
class _Heard:
    """What the cures a workshop learns from hear of the logs of their rooms, by the rooms' keys."""

    logs: Mapping[str, RoomLog]

    @classmethod
    def by(cls, batches: Sequence[WeighedBatch], logs: Mapping[str, RoomLog]) -> "_Heard":
        return cls(heard_part(batches, logs))

    @property
    def prints(self) -> dict[str, str]:
        """Return the fingerprints of the logs."""
        return {key: fingerprint(plain_log(log.days)) for key, log in self.logs.items()}


@dataclass(frozen=True, slots=True)
class _Shared:
    """What was worked out before in the same night: what was taught without a log, fingerprints of batches."""

    memory: Memory = field(default_factory=Memory)
    prints: Prints = field(default_factory=Prints)


def _learn(workshop: Workshop, learning: CureLearning, *, at: datetime) -> None:
    catch_up_records(workshop=workshop)
    known, rule = known_of(workshop), house_rule(workshop)
    logs: Mapping[str, RoomLog] = {}
    prints: Mapping[str, str] = {}
    # A night in a house without rooms reads no batch to find that nothing changed.
    if Room.objects.within(workshop).exists():
        batches = [weighed_batch(row.content) for row in (*known.history, *known.current)]
        logs = logs_of(workshop, batches, before=local_day(at, workshop.time_zone))
        prints = _Heard.by(batches, logs).prints
    whole = fingerprint([VERSION, KEPT_WITH, known.fingerprint, rule.as_plain(), *([prints] if prints else [])])
    if whole == learning.fingerprint:
        end_learning(learning=learning, learnt=_as_before(learning), fingerprint=whole, at=at)
        return
    step_g = _step_g(known)
    history, current = ([weighed_batch(row.content) for row in rows] for rows in (known.history, known.current))
    # What is learnt with logs begins with what is learnt without.
    shared = _Shared()
    plain = _chain(workshop, history, current, rule, {}, step_g=step_g, at=at, shared=shared)
    heard = _chain(workshop, history, current, rule, logs, step_g=step_g, at=at, shared=shared) if prints else None
    logged = Learnt([], None) if heard is None else heard
    logger.info("cures read: workshop=%s ended=%s going_on=%s", workshop.pk, len(history), len(current))
    end_learning(learning=learning, learnt=(plain, logged), fingerprint=whole, at=at)


def _as_before(learning: CureLearning) -> tuple[Learnt, Learnt]:
    return (
        Learnt(learning.stages, learning.calibration),
        Learnt(learning.logged_stages, learning.logged_calibration),
    )


def _chain(
    workshop: Workshop,
    history: Sequence[WeighedBatch],
    current: Sequence[WeighedBatch],
    rule: ForecastRule,
    logs: Mapping[str, RoomLog],
    *,
    step_g: float,
    at: datetime,
    shared: _Shared,
) -> Learnt:
    """Return what is learnt, stage after stage, with these logs; where none is heard it is what is learnt without."""
    found: list[list[Any]] = []
    before: CurePrior | None = None
    for stage in stages(history, current):
        heard = _Heard.by(stage.teaching, logs)
        before = _prior_of(workshop, stage, before, heard, step_g=step_g, at=at, shared=shared)
        found.append([None if not found else stage.begin, before.pk])
    heard = _Heard.by(history, logs)
    return Learnt(found, _calibration(workshop, history, rule, heard, step_g=step_g, at=at, shared=shared))


def _prior_of(
    workshop: Workshop,
    stage: Stage,
    before: CurePrior | None,
    heard: _Heard,
    *,
    step_g: float,
    at: datetime,
    shared: _Shared,
) -> CurePrior:
    key = print_of_prior(
        stage.teaching, step_g=step_g, earlier=before and before.fingerprint, logs=heard.prints, prints=shared.prints
    )
    known = CurePrior.objects.within(workshop).filter(fingerprint=key).first()
    if known is not None:
        return known
    earlier = None if before is None else Prior.from_plain(before.prior)
    prior = taught_by(stage, step_g=step_g, room=heard.logs or None, earlier=earlier, memory=shared.memory)
    return keep_prior(
        workshop=workshop, fingerprint=key, method=VERSION, prior=prior.as_plain(), cures=prior.learnt_from, at=at
    )  # fmt: skip


def _calibration(
    workshop: Workshop,
    history: Sequence[WeighedBatch],
    rule: ForecastRule,
    heard: _Heard,
    *,
    step_g: float,
    at: datetime,
    shared: _Shared,
) -> CureCalibration:
    key = print_of_calibration(history, rule, step_g=step_g, logs=heard.prints, prints=shared.prints)
    known = CureCalibration.objects.within(workshop).filter(fingerprint=key).first()
    if known is not None:
        return known
    replays = replayed(history, cold_prior(), rule, step_g=step_g, room=heard.logs or None, memory=shared.memory)
    found = {**wide_enough(replays).as_plain(), "told_again": told_again(replays, rule)}
    return keep_calibration(workshop=workshop, fingerprint=key, method=VERSION, calibration=found, at=at)
