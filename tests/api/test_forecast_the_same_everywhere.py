"""Page, API and command say the same of the same weighings, to the last digit."""

import csv
import json
import random
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from curehouse.common.time import day_words
from curehouse.curing.labels import LabelAsked, find_label
from curehouse.curing.models import Cure, Forecast, RoomDay
from curehouse.curing.outlook import soft_words
from curehouse.curing.services.rooms import add_room
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.foretell import learn_and_foretell
from curehouse.web.reading.batch import read_batch
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.forecast import WORTH_SAYING, range_words
from curehouse.web.reading.label import chance_said, label_said, read_label
from curehouse.workshops.services import give_token
from tests.api.device import Device
from tests.world import World

pytestmark = pytest.mark.django_db

ENDED, CURING = 14, 20
# What is typed of a batch's first bar at last: something stood on the scale with it, or the point is a place off.
SLIPS = {18: (1, 9), 23: (10, 0)}


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
                    if (bar, week) == ("a", weeks - 1):
                        times, more = SLIPS.get(number, (1, 0))
                        weight = times * weight + more
                    day = cut_on + timedelta(days=7 * week)
                    writer.writerow((f"N{number}", f"Formula {number % 3}", bar, f"{share:.2f}", cut_on, day, f"{weight:.1f}"))
    return FileGiven(path.name, path)


def files_of(world: World, folder: Path) -> dict[str, Path]:
    """Write what the house goes by as files for the command: history, current, cuts, the log of the room."""
    paths = {name: folder / f"{name}.csv" for name in ("history", "current", "cuts", "room")}
    cures = (
        Cure.objects.within(world.workshop)
        .filter(record__isnull=False)
        .select_related("record", "batch")
        .order_by("batch__cut_at")
    )
    rows: dict[str, list[list[Any]]] = {name: [] for name in paths}
    for cure in cures:
        told = cure.record.content
        rows["cuts"].append([told["key"], date.fromordinal(told["cut_day"]), cure.batch.bars_left or ""])
        for bar in told["bars"]:
            for day, weight_g in zip(bar["days"], bar["weights_g"], strict=True):
                into = rows["current" if cure.ended_at is None else "history"]
                into.append([told["key"], told["formula"], bar["label"], told["water_share"], day, weight_g])
    for row in RoomDay.objects.within(world.workshop).filter(day__lt=world.now.date()).with_readings():
        rows["room"].append([row.day, row.humidity_pct, row.temperature_c])
    for name, path in paths.items():
        heads = {"cuts": "batch,cut_date,bars", "room": "date,rh_pct,temperature_c"}
        head = heads.get(name, "batch,formula,bar,water_fraction,day,weight_g")
        with path.open("w", newline="", encoding="utf-8") as file:
            file.write(head + "\n")
            csv.writer(file).writerows(rows[name])
    return paths


def log_of_a_sensor(world: World, device: Device) -> None:
    """Send an invented log, four times a day: it begins after some of the batches were cut, and goes on today."""
    chance, room = random.Random(7), add_room(workshop=world.workshop, name="Drying room")
    _token, secret = give_token(actor=world.actor, name="Sensor", reach="senses", at=world.now)
    spell, sent = 0.0, []
    for step in range(4 * 110, 0, -1):
        spell = 0.97 * spell + chance.gauss(0, 2)
        moment = world.now - timedelta(hours=6 * step)
        air = {"humidity_pct": f"{min(max(58 + spell, 5), 98):.2f}", "temperature_c": f"{19 + chance.gauss(0, 1):.1f}"}
        sent.append({"moment": moment.isoformat(), **air})
    device.client.defaults["HTTP_AUTHORIZATION"], kept = f"Bearer {secret}", device.client.defaults["HTTP_AUTHORIZATION"]
    answer = device.post(f"rooms/{room.pk}/readings/bulk/", {"readings": sent})
    device.client.defaults["HTTP_AUTHORIZATION"] = kept
    assert answer.status_code == 201 and answer.json()["written"] == len(sent), answer.content


@pytest.mark.parametrize("has_log", [False, True], ids=["without a log", "with a log"])
def test_page_api_and_command_say_the_same_of_twenty_batches(
    world: World, device: Device, settings: Any, tmp_path: Path, has_log: bool
) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    given = cure_log(world, tmp_path / "log.csv")
    options = first_options(world.actor, kind_called("batches"), given.path, None)
    came = bring_at_once(actor=world.actor, kind="batches", given=given, beside=None, options=options, at=world.now)
    assert came.refused_rows == 0 and came.adds["batches that still cure"] == CURING, came
    if has_log:
        log_of_a_sensor(world, device)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    paths, out = files_of(world, tmp_path), tmp_path / "told.json"
    log = {"room": paths["room"]} if has_log else {}
    params = tmp_path / "params.json"
    params.write_text(json.dumps({"label": {"shelf_months": 0 if has_log else 12}}), encoding="utf-8")
    files = {name: paths[name] for name in ("history", "current", "cuts")}
    call_command("forecast_cure", **files, params=params, out=out, verbosity=0, **log)
    told = json.loads(out.read_text())
    rows = {row["foretold"]["key"]: row for row in device.rows("forecasts/", latest="true", page_size=100)}
    assert len(told) == CURING and told.keys() == rows.keys()
    assert {row["prior_version"] for row in rows.values()} != {None}
    heard = Forecast.objects.within(world.workshop).filter(room__isnull=False).values("batch").distinct().count()
    assert heard == (CURING if has_log else 0)
    assert {row["heard_log"] for row in rows.values()} == {has_log}
    for key, row in rows.items():
        the_api_says_so(told[key], row, device)
    calendar = Calendar(world.workshop, world.now)
    for cure in Cure.objects.within(world.workshop).filter(ended_at__isnull=True).select_related("batch__formula", "forecast"):
        the_page_says_so(told[f"{cure.batch.number}"], cure, world, calendar)
    doubted = [one for said in told.values() for one in said["asked"]]
    assert {one["kind"] for one in doubted} >= {"too_heavy", "decimal_slip"}
    assert any(said["label"]["weight_g"] for said in told.values())


def the_api_says_so(said: dict[str, Any], row: dict[str, Any], device: Device) -> None:
    """Hold each figure of a batch against that of the API."""
    found, at = row["foretold"], row["asked"]["days"].index(56.0)
    assert {name: said[f"ready_day_{name}"] for name in ("p10", "p50", "p90")} == found["ready_day"]
    assert (said["ready_from"], said["ready_by"]) == (row["ready_from"], row["ready_by"])
    assert (said["soft_probability"], said["odd_probability"]) == (found["soft_probability"], found["odd_probability"])
    assert said["by_day"]["days"] == row["asked"]["days"]
    for name in ("weight_g", "new_bar", "water_left_pct"):
        assert said["by_day"][name] == found[name], name
    assert said["bars"] == {label: ranges[at] for label, ranges in found["weight_g"].items()}
    assert (said["new_bar"], said["water_left_pct"]) == (found["new_bar"][at]["weight_g"], found["water_left_pct"][at])
    assert said["at_ready"] == (row["at_ready"] and {name: row["at_ready"][name] for name in said["at_ready"]})
    label = said["label"]
    wanted = {name: label[name] for name in ("rule", "wrap", "packed_on", "shelf_months", "probability")}
    proposal = device.get(f"batches/{row['batch']}/label-proposal/", **wanted).json()
    for name in ("weight_g", "chance", "next_up_chance", "bars", "days"):
        assert label[name] == proposal[name], name
    asked = device.rows("readings/", batch=row["batch"], standing="asked", page_size=100)
    names = ("kind", "question", "guess_g", "expected_low_g", "expected_high_g")
    asked_there = sorted((one["letter"], *(one["doubt"][name] for name in names)) for one in asked)
    assert sorted((one["bar"], *(one[name] for name in names)) for one in said["asked"]) == asked_there


def the_page_says_so(said: dict[str, Any], cure: Cure, world: World, calendar: Calendar) -> None:
    """Hold what the page of a batch and that of its label say against the figures of the command."""
    batch, today, cut_on = cure.batch, calendar.today, calendar.day_of(cure.batch.cut_at)
    page = read_batch(batch, world.workshop, calendar)
    outlook = page.verdict.outlook
    days = [date.fromisoformat(said[name]) for name in ("ready_from", "ready_by")]
    assert outlook.window == " – ".join(dict.fromkeys(day_words(day, today=today) for day in days))
    for point in outlook.points:
        if point.day in said["by_day"]["days"]:
            at = said["by_day"]["days"].index(point.day)
            bars = [ranges[at] for ranges in said["by_day"]["weight_g"].values()]
            mean = {name: sum(one[name] for one in bars) / len(bars) for name in ("p10", "p50", "p90")}
            assert (point.low_g, point.mid_g, point.high_g) == (mean["p10"], mean["p50"], mean["p90"])
    sale = said["at_ready"]
    if cut_on + timedelta(days=sale["day"]) >= today:
        left = f"about {sale['water_left_pct']['p50']:.0f}\u00a0% of its water is still in it."
        assert outlook.sentences[-1].endswith(f"{range_words(sale['weight_g'], 'g')}; {left}")
    soft = soft_words(said["soft_probability"], latest_day=world.workshop.latest_day)
    assert (soft in outlook.sentences) == (said["soft_probability"] >= WORTH_SAYING)
    asked = [(one.letter, one.day, one.question) for one in page.record.asked]
    assert asked == [
        (one["bar"], day_words(cut_on + timedelta(days=one["day"]), today=today), one["question"]) for one in said["asked"]
    ]
    label = said["label"]
    packed_on, probability = date.fromisoformat(label["packed_on"]), Decimal(label["probability"])
    wanted = LabelAsked(label["rule"], label["wrap"], packed_on, label["shelf_months"], probability)
    found = find_label(batch=batch, workshop=world.workshop, forecast=cure.forecast, asked=wanted)
    view = read_label(found, world.workshop, today, wanted_g=None)
    assert view.label == ("" if label["weight_g"] is None else label_said(Decimal(label["weight_g"]), "g"))
    assert label["chance"] is None or chance_said(label["chance"]) in view.chances
