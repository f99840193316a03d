"""Forecasts of the batches in cure: after each weighing and every morning, of what changed alone.

Computed outside any transaction from records that are written first, and kept under the lock of each cure: where
there was news meanwhile the forecast is still wanted, and the next one answers. Run twice, it finds nothing to do.
"""

import logging
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from django.db import transaction

from curehouse.common.errors import FAULTS
from curehouse.common.locking import lock_rows
from curehouse.common.nudges import nudge
from curehouse.common.steps import in_steps
from curehouse.common.time import local_day
from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch
from curehouse.core.cure.forecast.beside import WINDOW_DAYS, RoomMates
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms, log_of
from curehouse.core.cure.forecast.kept import VERSION, fingerprint, print_of, print_of_forecast
from curehouse.core.cure.forecast.prior import Prior, cold_prior
from curehouse.core.cure.forecast.ranges import UNREPLAYED, Calibration
from curehouse.curing.foretelling import asked_of, log_record, logs_of, records_of, rule_of, weighed_batch
from curehouse.curing.models import Cure, CureCalibration, CurePrior, CureRecord, Forecast
from curehouse.curing.services.cures import FORETELL_TASK
from curehouse.curing.services.forecasts import (
    Answer,
    ForecastEntry,
    answer_with_forecasts,
    keep_records,
    learning_of,
    put_off_forecast,
)
from curehouse.flows.forecast_notices import renew_all_outlooks, renew_outlooks
from curehouse.flows.hear_rooms import hear_rooms
from curehouse.flows.learn import learn_anew
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

# So many are computed together where somebody waits; others may write in between.
MOST_AT_ONCE = 40
# At night more are computed together, which costs less; if that is cut off, so many are computed once more.
MOST_AT_NIGHT = 100


@dataclass(frozen=True, slots=True)
class _Goes:
    """What the workshop goes by: priors by the day from which they hold, the first from ever."""

    begins: tuple[float, ...]
    priors: tuple[CurePrior | None, ...]
    calibration: CureCalibration | None

    def prior_for(self, batch: WeighedBatch) -> CurePrior | None:
        """Return the prior for a batch that was last weighed when it was."""
        moment = (batch.cut_day or 0) + batch.last_day
        return next(prior for begin, prior in zip(reversed(self.begins), reversed(self.priors), strict=True) if begin <= moment)


def _goes_by(workshop: Workshop, rows: dict[int, CurePrior]) -> tuple[_Goes, _Goes]:
    """Return what the workshop goes by without a log of the room, and with one; *rows* are known, and are added to."""
    learning = learning_of(workshop)
    keys = {key for _begin, key in [*learning.stages, *learning.logged_stages]}
    rows |= CurePrior.objects.within(workshop).in_bulk(keys - set(rows))
    plain = _goes(learning.stages, rows, learning.calibration)
    return plain, _goes(learning.logged_stages, rows, learning.logged_calibration) if learning.logged_stages else plain


def _goes(stages: Sequence[Any], rows: Mapping[int, CurePrior], calibration: CureCalibration | None) -> _Goes:
    if not stages:
        return _Goes((float("-inf"),), (None,), None)
    begins = tuple(float("-inf") if begin is None else float(begin) for begin, _key in stages)
    return _Goes(begins, tuple(rows[key] for _begin, key in stages), calibration)


@dataclass(frozen=True)
class _Asked:
    """A cure with what its forecast is to be made of; ``heard`` are the fingerprints of what was known beside it."""

    cure: Cure
    record: CureRecord
    batch: WeighedBatch
    rule: ForecastRule
    prior: CurePrior | None
    heard: list[str]
    beside: list[int]
    asked: dict[str, Any]
    calibration: CureCalibration | None
    log: CureRecord | None

    @cached_property
    def fingerprint(self) -> str:
        """Return the fingerprint of all that enters."""
        return print_of_forecast(
            self.record.fingerprint,
            self.heard,
            prior=self.prior and self.prior.fingerprint,
            calibration=self.calibration and self.calibration.fingerprint,
            asked=self.asked,
            log=self.log and self.log.fingerprint,
        )


@dataclass(frozen=True, slots=True)
class _Read:
    """What is written once and was read: records by their keys and batches made of them, what was heard, priors."""

    records: dict[int, CureRecord] = field(default_factory=dict)
    batches: dict[int, WeighedBatch] = field(default_factory=dict)
    heard: dict[tuple[int, int], str] = field(default_factory=dict)
    priors: dict[int, CurePrior] = field(default_factory=dict)

    def batch_of(self, record: CureRecord) -> WeighedBatch:
        """Return the batch that a record is of: the very same for the same record."""
        if record.pk not in self.batches:
            self.batches[record.pk] = weighed_batch(record.content)
        return self.batches[record.pk]

    def heard_print(self, record: CureRecord, mates: RoomMates, wanted: tuple[int, int]) -> str:
        """Return the fingerprint of what was known of a batch by so many sessions: many listen to the same."""
        key = record.pk, wanted[1]
        if key not in self.heard:
            self.heard[key] = print_of(mates.as_known(wanted))
        return self.heard[key]


def _records_beside(workshop: Workshop, cures: Sequence[Cure], read: _Read) -> dict[str, CureRecord]:
    """Return the records of the batches that stand, or stood, beside these, by their names."""
    first = min(cure.batch.cut_at for cure in cures)
    near = Cure.objects.within(workshop).filter(
        record__isnull=False, batch__cut_at__gte=first - timedelta(days=WINDOW_DAYS + 2)
    )
    keys = list(near.order_by("pk").values_list("record", flat=True))
    for part in in_steps([key for key in keys if key not in read.records]):
        read.records.update(CureRecord.objects.within(workshop).in_bulk(part))
    return {(record := read.records[key]).content["key"]: record for key in keys}


# By room and log what was heard of it, in plain values, under its fingerprint; a log is the very same as long as it stands.
_Told = dict[tuple[str, RoomLog], tuple[str, dict[str, Any]]]


def _log_records(workshop: Workshop, batches: Iterable[WeighedBatch], logs: Rooms, told: _Told) -> dict[str, CureRecord]:
    """Return by batch the record of what it hears of its room's log; of one that no log reaches there is none."""
    heard = {batch.key: (batch.room, log) for batch in batches if (log := log_of(batch, logs)) is not None}
    for room, log in heard.values():
        if (room, log) not in told:
            content = log_record(room, log)
            told[room, log] = fingerprint(content), content
    rows = keep_records(workshop=workshop, contents=dict(told[one] for one in heard.values()))
    return {key: rows[told[one][0]] for key, one in heard.items()}


@dataclass(frozen=True, slots=True)
class _Beside:
    """What forecasts made together are made of besides what each is asked: all batches, the logs of rooms, what was read."""

    asked: list[_Asked]
    others: list[WeighedBatch]
    logs: Mapping[str, RoomLog]
    told: _Told
    read: _Read


def _ask(workshop: Workshop, cures: Sequence[Cure], *, at: datetime, before: _Beside | None = None) -> _Beside:
    """Return what is to be foretold of, without the cures of which nothing can be; and what is beside them.

    All is gathered anew; only logs that are as they were *before*, and what never changes, are not read once more.
    """
    read = _Read() if before is None else before.read
    contents = records_of(workshop, [cure.batch for cure in cures])
    prints = {key: fingerprint(content) for key, content in contents.items()}
    rows = keep_records(workshop=workshop, contents={prints[key]: content for key, content in contents.items()})
    own = {cure.batch_id: rows[prints[cure.batch_id]] for cure in cures if cure.batch_id in prints}
    if not own:
        return _Beside([], [], {}, {}, read)
    beside = _records_beside(workshop, cures, read) | {row.content["key"]: row for row in own.values()}
    others = {name: read.batch_of(row) for name, row in beside.items()}
    batches = {key: others[record.content["key"]] for key, record in own.items()}
    like, told = ({}, {}) if before is None else (before.logs, before.told)
    logs = logs_of(workshop, batches.values(), before=local_day(at, workshop.time_zone), like=like)
    log_rows = _log_records(workshop, batches.values(), logs, told)
    mates, (plain, logged), asked = RoomMates(list(others.values())), _goes_by(workshop, read.priors), []
    for cure in cures:
        record = own.get(cure.batch_id)
        if record is None:
            continue
        batch, rule = batches[cure.batch_id], rule_of(cure.batch, workshop)
        goes = logged if batch.key in log_rows else plain
        wanted = [(beside[mates.others[one[0]].batch.key], one) for one in mates.wanted(batch)]
        asked.append(
            _Asked(
                cure=cure,
                record=record,
                batch=batch,
                rule=rule,
                prior=goes.prior_for(batch),
                heard=[read.heard_print(record_of, mates, one) for record_of, one in wanted],
                beside=sorted(record_of.pk for record_of, _one in wanted),
                asked=asked_of(rule, step_g=record.content["step_g"]),
                calibration=goes.calibration,
                log=log_rows.get(batch.key),
            )
        )
    return _Beside(asked, list(others.values()), logs, told, read)


def work_out(
    batches: Sequence[WeighedBatch],
    beside: Sequence[WeighedBatch],
    *,
    prior: dict[str, Any] | None,
    calibration: dict[str, Any] | None,
    asked: dict[str, Any],
    logs: Rooms | None = None,
) -> list[BatchForecast]:
    """Return the forecasts of batches from plain values as they are kept; *logs* reach over all of them, or are none."""
    own = {batch.key for batch in batches}
    return foretell(
        batches,
        cold_prior() if prior is None else Prior.from_plain(prior),
        ForecastRule.from_plain(asked["rule"]),
        step_g=asked["step_g"],
        days=asked["days"],
        room=logs,
        calibration=UNREPLAYED if calibration is None else Calibration.from_plain(calibration),
        # Never empty: a batch alone in its room is still one that was listened to.
        beside=[*batches, *(batch for batch in beside if batch.key not in own)],
    )


def _worked_out(asked: Sequence[_Asked], others: Sequence[WeighedBatch], logs: Rooms) -> dict[int, BatchForecast]:
    """Return forecasts by the cures' keys; those of one prior and one rule are worked out together."""
    groups: dict[tuple[Any, ...], list[_Asked]] = defaultdict(list)
    for one in asked:
        groups[one.prior and one.prior.pk, one.rule, one.asked["step_g"], one.log is None].append(one)
    found: dict[int, BatchForecast] = {}
    for group in groups.values():
        first = group[0]
        told = work_out(
            [one.batch for one in group],
            others,
            prior=first.prior and first.prior.prior,
            calibration=first.calibration and first.calibration.calibration,
            asked=first.asked,
            logs=logs if first.log else None,
        )
        found |= {one.cure.pk: forecast for one, forecast in zip(group, told, strict=True)}
    return found


def _kept_already(workshop: Workshop, asked: Sequence[_Asked]) -> dict[int, Forecast]:
    """Return forecasts that were worked out from the very same before, by the cures' keys."""
    by_print = {one.fingerprint: one.cure.pk for one in asked}
    rows = Forecast.objects.within(workshop).filter(fingerprint__in=list(by_print))
    return {by_print[row.fingerprint]: row for row in rows}


def foretell_batches(*, workshop: Workshop, cures: Sequence[Cure], at: datetime) -> int:
    """Make the forecasts of some cures; return how many were worked out and not at hand already."""
    ask = _ask(workshop, cures, at=at)
    asked, known = ask.asked, _kept_already(workshop, ask.asked)
    found = _worked_out([one for one in asked if one.cure.pk not in known], ask.others, ask.logs)
    entries = {one.cure.pk: _entry(one, known.get(one.cure.pk), found.get(one.cure.pk)) for one in asked}
    answers = [Answer(cure.pk, cure.forecast_wanted_at, entries.get(cure.pk)) for cure in cures]
    _answer(workshop, answers, ask, at=at)
    renew_outlooks(workshop=workshop, cures=[cure.pk for cure in cures], at=at)
    return len(found)


@transaction.atomic
def _answer(workshop: Workshop, answers: Sequence[Answer], before: _Beside, *, at: datetime) -> None:
    """Let cures go by what was foretold of them, if they are still to be foretold of the very same.

    Others keep their wish, whatever its moment: of two wishes of one moment the later may be answered already.
    """
    stands = _stands(workshop, [one.cure for one in answers], before, at=at)
    true = [one for one in answers if stands.get(one.cure) == (one.entry and one.entry.fingerprint)]
    answer_with_forecasts(workshop=workshop, answers=true, at=at)


def _stands(workshop: Workshop, keys: Sequence[int], before: _Beside, *, at: datetime) -> dict[int, str]:
    """Return by cure, which is locked, the fingerprint of what a forecast is to be made of now."""
    cures = lock_rows(Cure.objects.within(workshop).select_related("batch__formula"), keys)
    return {one.cure.pk: one.fingerprint for one in _ask(workshop, list(cures.values()), at=at, before=before).asked}


def _entry(one: _Asked, known: Forecast | None, found: BatchForecast | None) -> ForecastEntry:
    return ForecastEntry(
        moment=one.cure.last_weighed_at or one.cure.batch.cut_at,
        method=VERSION,
        fingerprint=one.fingerprint,
        record=one.record,
        beside=one.beside,
        room=one.log,
        prior=one.prior,
        calibration=one.calibration,
        asked=one.asked,
        foretold=known.foretold if found is None and known is not None else found.as_plain(),
    )


def foretell_wanting(*, workshop_id: int, at: datetime) -> int:
    """Make the forecasts that are wanted, some at a time; return how many were wanted."""
    workshop = Workshop.objects.filter(pk=workshop_id).first()
    if workshop is None:
        return 0
    wanting = Cure.objects.within(workshop).wanting_forecast().select_related("batch__formula")
    part = list(wanting[:MOST_AT_ONCE])
    _foretell_part(workshop, part, at=at)
    if len(part) == MOST_AT_ONCE:
        nudge(FORETELL_TASK, workshop.pk)
    return len(part)


def _foretell_part(workshop: Workshop, part: Sequence[Cure], *, at: datetime) -> int:
    """Make the forecasts of some cures; return how many were worked out.

    One that cannot be made keeps none of those it came with waiting: it goes behind all others, and the log says which.
    """
    try:
        return foretell_batches(workshop=workshop, cures=part, at=at)
    except FAULTS:
        if len(part) > MOST_AT_ONCE:
            parts = [part[start : start + MOST_AT_ONCE] for start in range(0, len(part), MOST_AT_ONCE)]
            return sum(_foretell_part(workshop, one, at=at) for one in parts)
        return sum(_foretell_alone(workshop, cure, at=at) for cure in part)


def _foretell_alone(workshop: Workshop, cure: Cure, *, at: datetime) -> int:
    try:
        return foretell_batches(workshop=workshop, cures=[cure], at=at)
    except FAULTS:
        logger.exception("not foretold: workshop=%s batch=%s", workshop.pk, cure.batch_id)
        put_off_forecast(workshop=workshop, batch_id=cure.batch_id, at=at)
        return 0


def learn_and_foretell(*, workshop_id: int, at: datetime) -> int:
    """Learn what is new, and make the forecasts that are wanted, by that among others; return how many were worked out."""
    workshop = Workshop.objects.filter(pk=workshop_id).first()
    if workshop is None:
        return 0
    try:
        hear_rooms(workshop=workshop, at=at)
        learn_anew(workshop=workshop, at=at)
    except FAULTS:
        # What was learnt before still holds.
        logger.exception("nothing learnt: workshop=%s", workshop.pk)
    wanting = Cure.objects.within(workshop).wanting_forecast().select_related("batch__formula")
    keys, worked_out = list(wanting.values_list("pk", flat=True)), 0
    for start in range(0, len(keys), MOST_AT_NIGHT):
        worked_out += _foretell_part(workshop, list(wanting.filter(pk__in=keys[start : start + MOST_AT_NIGHT])), at=at)
    return worked_out


def foretell_this_morning(*, workshop: Workshop, at: datetime) -> None:
    """Learn, foretell and tell of it before the day's digest, which a fault there must not keep waiting."""
    learn_and_foretell(workshop_id=workshop.pk, at=at)
    try:
        renew_all_outlooks(workshop=workshop, at=at)
    except FAULTS:
        logger.exception("nothing told of what is foretold this morning: workshop=%s", workshop.pk)
