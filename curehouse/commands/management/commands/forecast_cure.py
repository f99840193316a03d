"""``manage.py forecast_cure``: the cure forecast for people with files only."""

import argparse
import math
from collections import defaultdict
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from curehouse.commands.house.files import csv_rows, read_json, write_json
from curehouse.commands.house.forecast_out import BatchTold, Question, told_plainly
from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_data_option, file_path
from curehouse.commands.house.refusal import Refused, leave
from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, RoomDay, WeighedBatch
from curehouse.core.cure.forecast.calibrating import calibrated
from curehouse.core.cure.forecast.doubtful import doubtful
from curehouse.core.cure.forecast.foretold import foretell
from curehouse.core.cure.forecast.humidity import RoomLog, Rooms, log_of
from curehouse.core.cure.forecast.in_order import taught_in_order
from curehouse.core.cure.forecast.prior import cold_prior

_READINGS = ("batch", "formula", "bar", "water_fraction", "day", "weight_g")
_STEP_G, _WEIGH_DAY = 0.1, 56.0


class Command(BaseCommand):
    help = "Forecast from files when batches will be ready, what their bars will weigh, and which stay too soft."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_data_option(parser)
        columns = ",".join(_READINGS)
        parser.add_argument(
            "--history", type=file_path, required=True, metavar="CSV", help=f"weighings to learn from: {columns}"
        )
        parser.add_argument(
            "--current", type=file_path, required=True, metavar="CSV", help="weighings to forecast, same columns"
        )
        cuts = "batch,cut_date; also room, where there are several, and bars: how many are to carry a label"
        parser.add_argument("--cuts", type=file_path, metavar="CSV", help=cuts)
        log = "date,rh_pct: the room's humidity by the day; also temperature_c, and room where there are several"
        parser.add_argument("--room", type=file_path, metavar="CSV", help=log)
        params = "the limits of the rule, the scale's step, and label: rule, wrap, packed_day, shelf_months, probability"
        parser.add_argument("--params", type=file_path, metavar="JSON", help=params)
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
    question = _question(params)
    rule, step_g = question.rule, question.step_g
    bars = _bars(said["cuts"]) if said["cuts"] else {}
    room = _rooms(said["room"], {batch.room for batch in (*history, *current)}) if said["room"] else None
    found: dict[str, dict[str, Any]] = {}
    # Whom no log reaches is forecast as in a house without one.
    for logs in (None, room) if room is not None else (None,):
        asked = {i for i, batch in enumerate(current) if (log_of(batch, room) is not None) == (logs is not None)}
        if not asked:
            continue
        calibration = calibrated(history, cold_prior(), rule, step_g=step_g, room=logs)
        for taught in taught_in_order(history, current, step_g=step_g, room=logs):
            batches = [current[i] for i in taught.places if i in asked]
            told = foretell(
                batches,
                taught.prior,
                rule,
                step_g=step_g,
                days=question.days,
                room=logs,
                calibration=calibration,
                beside=[*history, *current],
            )
            doubts = doubtful(batches, taught.prior, step_g=step_g, room=logs)
            for batch, one, said_of in zip(batches, told, doubts, strict=True):
                cut_on = None if batch.cut_day is None else date.fromordinal(batch.cut_day)
                of_batch = BatchTold(batch, one, said_of, cut_on, bars.get(batch.key))
                found[batch.key] = told_plainly(of_batch, question)
    write_json(said["out"], {batch.key: found[batch.key] for batch in current})
    return len(found)


def _question(params: dict[str, Any]) -> Question:
    """Return what is asked of each batch, by the parameters or else as a house asks it."""
    rule = ForecastRule(
        min_days=int(params.get("min_days", 28)),
        weekly_loss_limit_pct=float(params.get("ready_threshold_pct_per_week", 0.75)),
        water_left_limit_pct=float(params["water_left_limit_pct"]) if "water_left_limit_pct" in params else None,
        latest_day=int(params.get("soft_ready_after_day", 56)),
        soft_water_of_bar_pct=float(params["soft_left_pct"]) if "soft_left_pct" in params else None,
    )
    label = params.get("label", {})
    if not isinstance(label, dict):
        raise Refused("In the parameters, label must hold names and values in braces.")
    step_g, day = float(params.get("scale_resolution_g", _STEP_G)), float(params.get("final_day", _WEIGH_DAY))
    return Question(rule, step_g, day, label)


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
        for where, row in csv_rows(path, ("batch", "cut_date"))
    }


def _bars(path: Path) -> dict[str, int]:
    """Return how many bars each batch has where that is said: they are to carry one label."""
    found = {}
    for where, row in csv_rows(path, ("batch", "cut_date")):
        if row.get("bars"):
            count = _number(where, row, "bars")
            if count < 1 or count != int(count):
                raise Refused(f"{where}: bars is “{row['bars']}”; write how many there are, 1 or more.")
            found[row["batch"]] = int(count)
    return found


def _rooms(path: Path, names: set[str]) -> Rooms:
    """Return the log of each room; one that names no room is that of all."""
    days: dict[str, list[RoomDay]] = defaultdict(list)
    for where, row in csv_rows(path, ("date", "rh_pct")):
        celsius = _number(where, row, "temperature_c") if row.get("temperature_c") else None
        day = RoomDay(_date(where, row["date"]).toordinal(), _number(where, row, "rh_pct"), celsius)
        days[row.get("room") or ""].append(day)
    if set(days) == {""}:
        return RoomLog(days[""])
    if not names & set(days):
        raise Refused(f"{path}: no batch is in {', '.join(sorted(days))}; give each batch its room in the file of cuts.")
    return {name: RoomLog(known) for name, known in days.items()}


def _params(path: Path) -> dict[str, Any]:
    params = read_json(path)
    if not isinstance(params, dict):
        raise Refused(f"{path} must hold names and numbers in braces.")
    return params


def _batches(path: Path, cuts: dict[str, tuple[int, str]]) -> list[WeighedBatch]:
    weights: dict[str, dict[str, dict[float, float]]] = defaultdict(lambda: defaultdict(dict))
    about: dict[str, tuple[str, float]] = {}
    for where, row in csv_rows(path, _READINGS):
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
