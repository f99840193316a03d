"""Rows into what the forecast's core takes, and what it foretells into what is kept: the adapter of forecasts.

A record is what was known of a batch's weighings in plain values: it can be kept, compared by its fingerprint, and
made into the core's input again without losing a digit. Loading this module loads NumPy; only who forecasts does.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Any

from curehouse.common.time import local_day
from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.humidity import RoomLog
from curehouse.core.cure.forecast.kept import log_from_plain, plain_log
from curehouse.curing.adapter import limits_of
from curehouse.curing.airs import Rooms, days_by_key
from curehouse.curing.doubts import USUAL_STEP_G
from curehouse.curing.models import Reading
from curehouse.curing.queries.weighing import ASKED, COUNTS
from curehouse.making.models import Batch, Formula
from curehouse.workshops.models import Scale, Workshop

HORIZON_DAYS = 126
# Beyond the least age of a formula it is looked at least so far.
_BEYOND_LEAST_DAYS = 70
# Where the page draws the curve: close together while bars lose fast; then quarters of a year, for labels, up to a
# year on the shelf after one in cure.
CURVE_DAYS = (0, 1, 2, 4, 7, 10, 14, 18, *range(21, HORIZON_DAYS + 1, 7), 182, 273, 365, 456, 548)


def records_of(workshop: Workshop, batches: Iterable[Batch]) -> dict[int, dict[str, Any]]:
    """Return the records of batches by their keys (two queries, and those of Rooms); where none can be made none is.

    A day is a day of the workshop: bars weighed on one day are one session, and of two weighings of a bar on one day
    the later counts. What was corrected or struck out is left out; what is asked about is in, for the forecast itself
    tells how far to believe it.
    """
    wanted = {batch.pk: batch for batch in batches if batch.cut_at is not None and 0 < batch.water_share < 1}
    rooms = Rooms(workshop, wanted.values())
    steps = {key: float(step) for key, step in Scale.objects.within(workshop).values_list("pk", "step_g")}
    readings = Reading.objects.within(workshop).of_batches(wanted).with_standing().filter(standing__in=[COUNTS, ASKED])
    bars: dict[int, dict[str, dict[int, float]]] = defaultdict(lambda: defaultdict(dict))
    step_of: dict[int, float] = {}
    columns = ("bar__batch_id", "bar__letter", "moment", "weight_g", "scale_id")
    cut_days = {key: local_day(batch.cut_at, workshop.time_zone) for key, batch in wanted.items()}
    for key, letter, moment, weight_g, scale in readings.values_list(*columns):
        day = max((local_day(moment, workshop.time_zone) - cut_days[key]).days, 0)
        bars[key][letter][day] = float(weight_g)
        step_of[key] = max(step_of.get(key, 0.0), steps.get(scale, USUAL_STEP_G))
    return {
        key: {
            **WeighedBatch(
                key=f"{wanted[key].number}",
                formula=wanted[key].formula.name,
                water_share=wanted[key].water_share,
                bars=tuple(
                    BarReadings(label, tuple(map(float, sorted(own))), tuple(own[day] for day in sorted(own)))
                    for label, own in sorted(weighed.items())
                ),
                cut_day=cut_days[key].toordinal(),
                room=rooms.stood(key).key(cut_days[key].toordinal() + max(max(own) for own in weighed.values())),
            ).as_plain(),
            "step_g": step_of[key],
        }
        for key, weighed in bars.items()
    }


def weighed_batch(record: Mapping[str, Any]) -> WeighedBatch:
    """Return the core's input of a record."""
    return WeighedBatch.from_plain({name: value for name, value in record.items() if name != "step_g"})


def logs_of(
    workshop: Workshop, batches: Iterable[WeighedBatch], *, before: date, like: Mapping[str, RoomLog] = MappingProxyType({})
) -> dict[str, RoomLog]:
    """Return the logs of the rooms of batches by their keys, as known before a day (two queries); of those *like* the same."""
    days = days_by_key(workshop, {batch.room for batch in batches}, before=before)
    logs: dict[str, RoomLog] = {}
    for key, known in days.items():
        rows, old = tuple(RoomDay(*one) for one in known), like.get(key)
        logs[key] = old if old is not None and old.days == rows else RoomLog(rows)
    return logs


def log_record(room: str, log: RoomLog) -> dict[str, Any]:
    """Return what was known of a room's air in plain values."""
    return {"room": room, "days": plain_log(log.days)}


def logs_in(record: Mapping[str, Any] | None) -> dict[str, RoomLog] | None:
    """Return the core's input of what was known of a room's air; None where nothing was."""
    return None if record is None else {record["room"]: RoomLog(log_from_plain(record["days"]))}


def rule_of(batch: Batch, workshop: Workshop) -> ForecastRule:
    """Return the ready rule as the forecast takes it."""
    return _rule(limits_of(batch, workshop).min_days, workshop)


def formula_rule(formula: Formula) -> ForecastRule:
    """Return the ready rule of batches of a formula that are still to come, looked at for a while beyond the least age."""
    rule = _rule(formula.min_days or formula.workshop.min_days, formula.workshop)
    return replace(rule, horizon_days=max(rule.horizon_days, rule.min_days + _BEYOND_LEAST_DAYS))


def house_rule(workshop: Workshop) -> ForecastRule:
    """Return the workshop's own rule, by which its past is replayed."""
    return _rule(workshop.min_days, workshop)


def _rule(min_days: int, workshop: Workshop) -> ForecastRule:
    water, latest = workshop.water_left_limit_pct, max(workshop.latest_day, min_days)
    return ForecastRule(
        min_days=min_days,
        weekly_loss_limit_pct=float(workshop.weekly_loss_limit_pct),
        water_left_limit_pct=None if water is None else float(water),
        latest_day=latest,
        horizon_days=max(HORIZON_DAYS, latest),
    )


def asked_of(rule: ForecastRule, *, step_g: float) -> dict[str, Any]:
    """Return what is asked of a forecast, as it is kept."""
    days = sorted({*map(float, CURVE_DAYS), float(rule.latest_day)})
    return {"rule": rule.as_plain(), "step_g": step_g, "days": days}
