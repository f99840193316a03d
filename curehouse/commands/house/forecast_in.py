"""What ``forecast_cure`` reads: weighings, cuts, rooms and parameters, each refused in a sentence where it cannot be."""

import math
from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from curehouse.commands.house.files import csv_rows, read_json
from curehouse.commands.house.forecast_out import Question
from curehouse.commands.house.refusal import Refused
from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms
from curehouse.curing.foretelling import HORIZON_DAYS
from curehouse.making.services import MOST_BARS

READINGS = ("batch", "formula", "bar", "water_fraction", "day", "weight_g")
_NAMES = ("batch", "formula", "bar")
_STEP_G, _WEIGH_DAY = 0.1, 56.0
# Ten years, and what no bar and no scale's step weighs.
_MOST_DAYS, _LEAST_G, _MOST_G = 3650.0, 0.001, 1_000_000.0
# What a person may say in the file of parameters.
KNOWN = frozenset({
    "ready_threshold_pct_per_week", "min_days", "soft_ready_after_day", "soft_left_pct", "final_day",
    "scale_resolution_g", "water_left_limit_pct", "label",
})  # fmt: skip


def params_of(path: Path) -> dict[str, Any]:
    """Return the parameters that say something: null is as if it were not there."""
    params = read_json(path)
    if not isinstance(params, dict):
        raise Refused(f"{path} must hold names and numbers in braces.")
    return {name: value for name, value in params.items() if value is not None or name == "label"}


def question_of(params: Mapping[str, Any]) -> Question:
    """Return what is asked of each batch, by the parameters or else as a house asks it."""
    min_days = round(_param(params, "min_days", 28, low=0, high=_MOST_DAYS, whole=True))
    latest = round(_param(params, "soft_ready_after_day", max(56, min_days), low=min_days, high=_MOST_DAYS, whole=True))
    rule = ForecastRule(
        min_days=min_days,
        weekly_loss_limit_pct=_param(params, "ready_threshold_pct_per_week", 0.75, low=0.001, high=99),
        water_left_limit_pct=_limit(params, "water_left_limit_pct"),
        latest_day=latest,
        soft_water_of_bar_pct=_limit(params, "soft_left_pct"),
        horizon_days=max(HORIZON_DAYS, latest),
    )
    label = params.get("label", {})
    if not isinstance(label, dict):
        raise Refused("In the parameters, label must hold names and values in braces.")
    step_g = _param(params, "scale_resolution_g", _STEP_G, low=_LEAST_G / 100, high=_MOST_G)
    return Question(rule, step_g, _param(params, "final_day", _WEIGH_DAY, low=0, high=_MOST_DAYS), label)


def _limit(params: Mapping[str, Any], name: str) -> float | None:
    return _param(params, name, 100, low=0.001, high=100) if name in params else None


def _param(params: Mapping[str, Any], name: str, usual: float, *, low: float, high: float, whole: bool = False) -> float:
    value = params.get(name, usual)
    if (
        isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high
        or (whole and value != round(value))
    ):  # fmt: skip
        kind = "whole number" if whole else "number"
        raise Refused(f"In the parameters, {name} is “{f'{value}'[:40]}”; write a {kind} from {low:g} to {high:g}.")
    return float(value)


def cuts_of(path: Path) -> dict[str, tuple[int, str]]:
    """Return the day of the cut and the room of each batch."""
    found: dict[str, tuple[int, str]] = {}
    for where, row in csv_rows(path, ("batch", "cut_date")):
        said = _date(where, row["cut_date"]).toordinal(), row.get("room") or ""
        if found.setdefault(row["batch"], said) != said:
            raise Refused(f"{where}: batch {row['batch']} has another cut_date or room above; leave one.")
    return found


def bars_of(path: Path) -> dict[str, int]:
    """Return how many bars each batch has where that is said: they are to carry one label."""
    found = {}
    for where, row in csv_rows(path, ("batch", "cut_date")):
        if row.get("bars"):
            count = _number(where, row, "bars")
            if not 1 <= count <= MOST_BARS or count != int(count):
                raise Refused(f"{where}: bars is “{row['bars']}”; write how many there are, 1 to {MOST_BARS}.")
            found[row["batch"]] = int(count)
    return found


def rooms_of(path: Path, names: set[str]) -> Rooms:
    """Return the log of each room; one that names no room is that of all."""
    days: dict[str, list[RoomDay]] = defaultdict(list)
    for where, row in csv_rows(path, ("date", "rh_pct")):
        celsius = _number(where, row, "temperature_c") if row.get("temperature_c") else None
        day = RoomDay(_date(where, row["date"]).toordinal(), _number(where, row, "rh_pct"), celsius)
        days[row.get("room") or ""].append(day)
    if not days:
        raise Refused(f"{path} has no day: write a row for each, or leave --room out.")
    for name, known in days.items():
        if all(day.humidity_pct <= 1 for day in known):
            raise Refused(f"{path}: rh_pct is never above 1{f' in {name}' if name else ''}; write percent, such as 55.")
    if set(days) == {""}:
        return RoomLog(days[""])
    if not names & set(days):
        raise Refused(f"{path}: no batch is in {', '.join(sorted(days))}; give each batch its room in the file of cuts.")
    return {name: RoomLog(known) for name, known in days.items()}


def batches_of(path: Path, cuts: Mapping[str, tuple[int, str]]) -> list[WeighedBatch]:
    """Return the batches of a file of weighings, in the order in which they first stand there."""
    weights: dict[str, dict[str, dict[int, tuple[float, float]]]] = defaultdict(lambda: defaultdict(dict))
    about: dict[str, tuple[str, float]] = {}
    for where, row in csv_rows(path, READINGS):
        for name in _NAMES:
            if not row[name].strip():
                raise Refused(f"{where}: {name} is empty; write its name.")
        key, bar, day, weight_g = row["batch"], row["bar"], _number(where, row, "day"), _number(where, row, "weight_g")
        told = (row["formula"], _number(where, row, "water_fraction"))
        if about.setdefault(key, told) != told:
            raise Refused(f"{where}: batch {key} has another formula or water_fraction above; give it one.")
        if day < 0 or weight_g <= 0 or not 0 < told[1] < 1:
            raise Refused(f"{where}: day must be 0 or more, weight_g above 0, water_fraction between 0 and 1.")
        if day > _MOST_DAYS or not _LEAST_G <= weight_g <= _MOST_G:
            raise Refused(f"{where}: day is counted from the cut, weight_g is in grams; no bar has {day:g} and {weight_g:g}.")
        if round(day) in weights[key][bar]:
            raise Refused(f"{where}: bar {bar} of batch {key} has two weights on day {day:g}; leave one.")
        weights[key][bar][round(day)] = day, weight_g
    return [
        WeighedBatch(key, *about[key], tuple(_bar(label, own) for label, own in bars.items()), *cuts.get(key, ()))
        for key, bars in weights.items()
    ]


def _bar(label: str, own: Mapping[int, tuple[float, float]]) -> BarReadings:
    ordered = sorted(own.values())
    return BarReadings(label, tuple(day for day, _ in ordered), tuple(weight_g for _, weight_g in ordered))


def _number(where: str, row: Mapping[str, str], name: str) -> float:
    try:
        value = float(row[name])
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise Refused(f"{where}: {name} is “{row[name]}”; write a plain number such as 12.5.")
    return value


def _date(where: str, text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError as error:
        raise Refused(f"{where}: “{text}” is no date; write it as 2026-01-31.") from error
    # Days are counted on and back from a cut.
    if not 1900 <= found.year <= 2200:
        raise Refused(f"{where}: “{text}” lies beyond 1900 to 2200; write it as 2026-01-31.")
    return found
