"""Page, API and command say the same of the same weighings, to the last digit."""

import csv
import json
import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from curehouse.common.time import day_words
from curehouse.curing.models import Cure
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.foretell import learn_and_foretell
from curehouse.web.reading.batch import read_batch
from curehouse.web.reading.days import Calendar
from tests.api.device import Device
from tests.world import World

pytestmark = pytest.mark.django_db

ENDED, CURING = 14, 20


def cure_log(world: World, path: Path) -> FileGiven:
    """Write invented cures: some that ended two months ago, twenty last weighed yesterday; a slip here and there."""
    chance, today = random.Random(11), world.now.date()
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g"))
        for number in range(ENDED + CURING):
            weeks = 8 if number < ENDED else 1 + number % 5
            last = today - timedelta(days=60 + number if number < ENDED else 1)
            cut_on, share = last - timedelta(days=7 * (weeks - 1)), 0.27 + 0.01 * (number % 6)
            for bar in "abc"[: 1 + number % 3]:
                start = chance.gauss(125, 4)
                for week in range(weeks):
                    left = 1 - share * 0.66 * (1 - 2.718 ** -((week * 7 / 21) ** 0.8))
                    weight = start * left + chance.gauss(0, 0.08) + (9 if chance.random() < 0.02 else 0)
                    day = cut_on + timedelta(days=7 * week)
                    writer.writerow((f"N{number}", f"Formula {number % 3}", bar, f"{share:.2f}", cut_on, day, f"{weight:.1f}"))
    return FileGiven(path.name, path)


def files_of(world: World, folder: Path) -> dict[str, Path]:
    """Write what the house goes by as files for the command: history, current, cuts."""
    paths = {name: folder / f"{name}.csv" for name in ("history", "current", "cuts")}
    cures = Cure.objects.within(world.workshop).filter(record__isnull=False).select_related("record").order_by("batch__cut_at")
    rows: dict[str, list[list[Any]]] = {name: [] for name in paths}
    for cure in cures:
        told = cure.record.content
        rows["cuts"].append([told["key"], date.fromordinal(told["cut_day"])])
        for bar in told["bars"]:
            for day, weight_g in zip(bar["days"], bar["weights_g"], strict=True):
                into = rows["current" if cure.ended_at is None else "history"]
                into.append([told["key"], told["formula"], bar["label"], told["water_share"], day, weight_g])
    for name, path in paths.items():
        head = "batch,cut_date" if name == "cuts" else "batch,formula,bar,water_fraction,day,weight_g"
        with path.open("w", newline="", encoding="utf-8") as file:
            file.write(head + "\n")
            csv.writer(file).writerows(rows[name])
    return paths


def test_page_api_and_command_say_the_same_of_twenty_batches(
    world: World, device: Device, settings: Any, tmp_path: Path
) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    given = cure_log(world, tmp_path / "log.csv")
    options = first_options(world.actor, kind_called("batches"), given.path, None)
    came = bring_at_once(actor=world.actor, kind="batches", given=given, beside=None, options=options, at=world.now)
    assert came.refused_rows == 0 and came.adds["batches that still cure"] == CURING, came
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    paths, out = files_of(world, tmp_path), tmp_path / "told.json"
    call_command(
        "forecast_cure", history=paths["history"], current=paths["current"], cuts=paths["cuts"], out=out, verbosity=0
    )  # fmt: skip
    told = json.loads(out.read_text())
    rows = {row["foretold"]["key"]: row for row in device.rows("forecasts/", latest="true", page_size=100)}
    assert len(told) == CURING and told.keys() == rows.keys()
    assert {row["prior_version"] for row in rows.values()} != {None}
    for key, row in rows.items():
        found, at = row["foretold"], row["asked"]["days"].index(56.0)
        said = told[key]
        assert {name: said[f"ready_day_{name}"] for name in ("p10", "p50", "p90")} == found["ready_day"], key
        assert said["soft_probability"] == found["soft_probability"], key
        assert said["bars"] == {label: ranges[at] for label, ranges in found["weight_g"].items()}, key
        assert said["new_bar"] == found["new_bar"][at]["weight_g"], key
    calendar = Calendar(world.workshop, world.now)
    for cure in Cure.objects.within(world.workshop).filter(ended_at__isnull=True).select_related("batch__formula"):
        outlook = read_batch(cure.batch, world.workshop, calendar).verdict.outlook
        said = told[f"{cure.batch.number}"]
        days = [calendar.day_of(cure.batch.cut_at) + timedelta(days=said[f"ready_day_{name}"]) for name in ("p10", "p90")]
        assert outlook.window == " – ".join(dict.fromkeys(day_words(day, today=calendar.today) for day in days)), key
        drawn = {point.day: point for point in outlook.points}[56.0]
        assert drawn.mid_g == sum(one["p50"] for one in said["bars"].values()) / len(said["bars"])
