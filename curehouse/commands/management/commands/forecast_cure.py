"""``manage.py forecast_cure``: the cure forecast for people with files only."""

import argparse
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand

from curehouse.commands.house.files import write_json
from curehouse.commands.house.forecast_in import KNOWN, READINGS, bars_of, batches_of, cuts_of, params_of, question_of, rooms_of
from curehouse.commands.house.forecast_out import BatchTold, told_plainly
from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_data_option, file_path
from curehouse.commands.house.refusal import Refused, leave
from curehouse.core.cure.forecast.calibrating import calibrated
from curehouse.core.cure.forecast.doubtful import doubtful
from curehouse.core.cure.forecast.foretold import foretell
from curehouse.core.cure.forecast.humidity import log_of
from curehouse.core.cure.forecast.in_order import taught_in_order
from curehouse.core.cure.forecast.prior import cold_prior


class Command(BaseCommand):
    help = "Forecast from files when batches will be ready, what their bars will weigh, and which stay too soft."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_data_option(parser)
        columns = ",".join(READINGS)
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
    cuts = cuts_of(said["cuts"]) if said["cuts"] else {}
    history, current = batches_of(said["history"], cuts), batches_of(said["current"], cuts)
    params = params_of(said["params"]) if said["params"] else {}
    question = question_of(params)
    rule, step_g = question.rule, question.step_g
    bars = bars_of(said["cuts"]) if said["cuts"] else {}
    room = rooms_of(said["room"], {batch.room for batch in (*history, *current)}) if said["room"] else None
    if unknown := sorted(set(params) - KNOWN):
        say(f"Not known among the parameters and passed over: {', '.join(unknown)}.")
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
