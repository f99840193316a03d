"""``manage.py forecast_cure``: the cure forecast for people with files only."""

import argparse
import csv
import json
import math
from collections import defaultdict
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import file_path
from curehouse.commands.house.refusal import Refused, leave
from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.calibrating import calibrated
from curehouse.core.cure.forecast.doubtful import DoubtfulWeighing, doubtful
from curehouse.core.cure.forecast.foretold import BatchForecast, foretell
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms
from curehouse.core.cure.forecast.in_order import taught_in_order
from curehouse.core.cure.forecast.prior import cold_prior
from curehouse.core.cure.forecast.ranges import Range

_READINGS = ("batch", "formula", "bar", "water_fraction", "day", "weight_g")
_STEP_G, _WEIGH_DAY = 0.1, 56.0


class Command(BaseCommand):
    help = "Forecast from files when batches will be ready, what their bars will weigh, and which stay too soft."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        columns = ",".join(_READINGS)
        parser.add_argument(
            "--history", type=file_path, required=True, metavar="CSV", help=f"weighings to learn from: {columns}"
        )
        parser.add_argument(
            "--current", type=file_path, required=True, metavar="CSV", help="weighings to forecast, same columns"
        )
        parser.add_argument("--cuts", type=file_path, metavar="CSV", help="batch,cut_date; also room, where there are several")
        log = "date,rh_pct: the room's humidity by the day; also temperature_c, and room where there are several"
        parser.add_argument("--room", type=file_path, metavar="CSV", help=log)
        parser.add_argument("--params", type=file_path, metavar="JSON", help="the limits of the rule and the scale's step")
        parser.add_argument("--out", type=file_path, required=True, metavar="JSON", help="where the forecast goes")

    def handle(self, **said: Any) -> None:
        try:
            count = _forecast(said)
        except (Refused, ValueError) as error:
            leave(error if isinstance(error, Refused) else Refused(f"{error}."))
        say(f"{count} batches forecast, in {said['out']}.")


def _forecast(said: dict[str, Any]) -> int:
    cuts = _cuts(said["cuts"]) if said["cuts"] else {}
    history, current = _batches(said["history"], cuts), _batches(said["current"], cuts)
    params = _params(said["params"]) if said["params"] else {}
    rule = ForecastRule(
        min_days=int(params.get("min_days", 28)),
        weekly_loss_limit_pct=float(params.get("ready_threshold_pct_per_week", 0.75)),
        water_left_limit_pct=float(params["water_left_limit_pct"]) if "water_left_limit_pct" in params else None,
        latest_day=int(params.get("soft_ready_after_day", 56)),
        soft_water_of_bar_pct=float(params["soft_left_pct"]) if "soft_left_pct" in params else None,
    )
    step_g, day = float(params.get("scale_resolution_g", _STEP_G)), float(params.get("final_day", _WEIGH_DAY))
    room = _rooms(said["room"], {batch.room for batch in (*history, *current)}) if said["room"] else None
    calibration = calibrated(history, cold_prior(), rule, step_g=step_g, room=room)
    found, beside = {}, [*history, *current]
    for taught in taught_in_order(history, current, step_g=step_g, room=room):
        batches = [current[i] for i in taught.places]
        told = foretell(
            batches, taught.prior, rule, step_g=step_g, days=(day,), room=room, calibration=calibration, beside=beside
        )
        doubts = doubtful(batches, taught.prior, step_g=step_g, room=room)
        found |= {one.key: _plain(one, said) for one, said in zip(told, doubts, strict=True)}
    text = json.dumps({batch.key: found[batch.key] for batch in current}, indent=1)
    Path(said["out"]).write_text(text + "\n", encoding="utf-8")
    return len(found)


def _plain(one: BatchForecast, doubts: tuple[DoubtfulWeighing, ...]) -> dict[str, Any]:
    return {
        **{f"ready_day_{name}": value for name, value in _range(one.ready_day).items()},
        "soft_probability": one.soft_probability,
        "bars": {label: _range(ranges[0]) for label, ranges in one.weight_g.items()},
        "new_bar": _range(one.new_bar[0].weight_g),
        "faults": [[one.key, said.bar, said.day] for said in doubts],
        "doubts": [
            {
                "bar": said.bar,
                "day": said.day,
                "kind": said.doubt.kind.value,
                "question": said.doubt.question,
                "guess_g": said.doubt.guess_g,
            }
            for said in doubts
        ],
    }


def _range(one: Range) -> dict[str, float]:
    return {"p10": one.p10, "p50": one.p50, "p90": one.p90}


def _rows(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[str, dict[str, str]]]:
    """Yield where a row stands, in words, and its cells."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [name for name in columns if name not in (reader.fieldnames or ())]
            if missing:
                raise Refused(f"{path} has no column {', '.join(missing)}: name it in the first row.")
            for row in reader:
                if any(row[name] is None for name in columns):
                    raise Refused(f"{path}, line {reader.line_num}: cells are missing at the end of the row.")
                yield f"{path}, line {reader.line_num}", row
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise Refused(f"{path} cannot be read as CSV in UTF-8: {error}.") from error


def _number(where: str, row: dict[str, str], name: str) -> float:
    try:
        value = float(row[name])
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise Refused(f"{where}: {name} is “{row[name]}”; write a plain number such as 12.5.")
    return value


def _date(where: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refused(f"{where}: “{text}” is no date; write it as 2026-01-31.") from error


def _cuts(path: Path) -> dict[str, tuple[int, str]]:
    """Return the day of the cut and the room of each batch."""
    return {
        row["batch"]: (_date(where, row["cut_date"]).toordinal(), row.get("room") or "")
        for where, row in _rows(path, ("batch", "cut_date"))
    }


def _rooms(path: Path, names: set[str]) -> Rooms:
    """Return the log of each room; one that names no room is that of all."""
    days: dict[str, list[RoomDay]] = defaultdict(list)
    for where, row in _rows(path, ("date", "rh_pct")):
        celsius = _number(where, row, "temperature_c") if row.get("temperature_c") else None
        day = RoomDay(_date(where, row["date"]).toordinal(), _number(where, row, "rh_pct"), celsius)
        days[row.get("room") or ""].append(day)
    if set(days) == {""}:
        return RoomLog(days[""])
    if not names & set(days):
        raise Refused(f"{path}: no batch is in {', '.join(sorted(days))}; give each batch its room in the file of cuts.")
    return {name: RoomLog(known) for name, known in days.items()}


def _params(path: Path) -> dict[str, Any]:
    try:
        params = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise Refused(f"{path} cannot be read as JSON: {error}.") from error
    if not isinstance(params, dict):
        raise Refused(f"{path} must hold names and numbers in braces.")
    return params


def _batches(path: Path, cuts: dict[str, tuple[int, str]]) -> list[WeighedBatch]:
    weights: dict[str, dict[str, dict[float, float]]] = defaultdict(lambda: defaultdict(dict))
    about: dict[str, tuple[str, float]] = {}
    for where, row in _rows(path, _READINGS):
        key, day, weight_g = row["batch"], _number(where, row, "day"), _number(where, row, "weight_g")
        told = (row["formula"], _number(where, row, "water_fraction"))
        if about.setdefault(key, told) != told:
            raise Refused(f"{where}: batch {key} has another formula or water_fraction above; give it one.")
        if day in weights[key][row["bar"]]:
            raise Refused(f"{where}: bar {row['bar']} of batch {key} has two weights on day {day:g}; leave one.")
        if day < 0 or weight_g <= 0 or not 0 < told[1] < 1:
            raise Refused(f"{where}: day must be 0 or more, weight_g above 0, water_fraction between 0 and 1.")
        weights[key][row["bar"]][day] = weight_g
    return [
        WeighedBatch(
            key,
            *about[key],
            tuple(
                BarReadings(label, tuple(sorted(own)), tuple(own[day] for day in sorted(own))) for label, own in bars.items()
            ),
            *cuts.get(key, ()),
        )
        for key, bars in weights.items()
    ]
