"""Weighings a second: the bulk API beside raw SQL and beside a ModelSerializer, side by side.

    python -m tests.benchmarks.bulk_readings [--rounds 9] [--batches 20] [--bars 5] [--weeks 10]

Each arm writes the same weighings into a fresh copy of one SQLite file, with the table's triggers
and an fsync at the commit; arms take turns, so that a busy computer is busy for all of them.

* ``raw``: ``executemany`` of finished rows through the same connection.
* ``bulk API``: one POST from bytes to bytes, with token, locks, doubts, due days and nudges.
* ``serializer``: ``ModelSerializer(many=True)`` from parsed JSON, validated and saved.

Aims: bulk API at most 25 times raw (aimed at 10), and at least 5 times faster than the serializer
(aimed at 7). The script ends with 1 if one of the two is missed.
"""

import argparse
import gc
import json
import os
import random
import shutil
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path
from statistics import median

FOLDER = Path(tempfile.mkdtemp(prefix="curehouse-bench-"))
os.environ |= {"CUREHOUSE_DATA": str(FOLDER), "DJANGO_SETTINGS_MODULE": "curehouse.settings"}
for _name in ("DATABASE_URL", "REDIS_URL"):
    os.environ.pop(_name, None)

import django  # noqa: E402  (the folder comes first)

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402
from django.utils import timezone  # noqa: E402
from rest_framework import serializers  # noqa: E402

from curehouse.curing.models import Position, Reading, SampleBar  # noqa: E402
from curehouse.workshops.services import give_token  # noqa: E402
from tests.world import World  # noqa: E402

MOST_TIMES_RAW = 25
LEAST_TIMES_FASTER = 5
Rows = list[dict[str, object]]


class PlainReadingSerializer(serializers.ModelSerializer):
    """What one writes first: every field of the model, its keys looked up row by row."""

    class Meta:
        model = Reading
        fields = ["workshop", "bar", "client_id", "moment", "weight_g", "scale", "source", "received_at"]


def drying(start_g: float, week: int, chance: random.Random) -> str:
    """Return a bar's weight after so many weeks, with the scale's noise."""
    return f"{start_g * (0.88 + 0.12 * 0.65**week) + chance.gauss(0, 0.05):.1f}"


def furnish(batches: int, bars: int, weeks: int) -> tuple[World, str, Rows]:
    """Write the house every arm starts from; return it, a token, and the weighings to send."""
    call_command("migrate", verbosity=0)
    world = World(now=timezone.now())
    world.rack(levels=4, places=10, capacity=500)
    positions = list(Position.objects.within(world.workshop).in_walking_order())
    for number in range(batches):
        world.batch(cut_days_ago=7 * weeks + 1, sample_bars=bars, position=positions[number % len(positions)])
    _token, secret = give_token(actor=world.actor, name="bench", reach="works", at=world.now)
    chance = random.Random(20260310)
    marked = list(SampleBar.objects.within(world.workshop).select_related("batch"))
    rows: Rows = [
        {
            "client_id": str(uuid.UUID(int=chance.getrandbits(128), version=4)),
            "bar": bar.pk,
            "moment": (bar.batch.cut_at + timedelta(days=7 * week, minutes=5 + 3 * place)).isoformat(timespec="seconds"),
            "weight_g": drying(118 + place % 7, week, chance),
            "scale": world.scale.pk,
        }
        for week in range(weeks)
        for place, bar in enumerate(marked)
    ]
    connection.close()
    return world, secret, rows


def raw_arm(world: World, rows: Rows) -> Callable[[], None]:
    """Return the writing of finished rows by executemany."""
    names = ["workshop_id", "bar_id", "client_id", "moment", "weight_g", "scale_id", "firmness", "dent_tool", "doubt"]
    names += ["doubt_detail", "source", "received_at"]
    sql = f"INSERT INTO curing_reading ({', '.join(names)}) VALUES ({', '.join(['%s'] * len(names))})"
    at = world.now.isoformat(sep=" ")
    values = [
        (
            *(world.workshop.pk, row["bar"], str(row["client_id"]).replace("-", ""), str(row["moment"]).replace("T", " ")[:19]),
            *(row["weight_g"], row["scale"], "", "", "", "{}", "api", at),
        )
        for row in rows
    ]

    def run() -> None:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.executemany(sql, values)

    return run


def api_arm(secret: str, rows: Rows) -> Callable[[], None]:
    """Return one POST of all rows."""
    client = Client(SERVER_NAME="localhost", headers={"Authorization": f"Bearer {secret}"})
    body = json.dumps({"readings": rows})

    def run() -> None:
        answer = client.post("/api/v1/readings/bulk/", body, content_type="application/json")
        if answer.status_code != 201:
            sys.exit(f"the bulk API answered {answer.status_code}: {answer.content[:300]!r}")

    return run


def serializer_arm(world: World, rows: Rows) -> Callable[[], None]:
    """Return the writing of the rows by a ModelSerializer."""
    stamp = {"workshop": world.workshop.pk, "source": "api", "received_at": world.now.isoformat()}
    body = json.dumps([row | stamp for row in rows])

    def run() -> None:
        with transaction.atomic():
            reader = PlainReadingSerializer(data=json.loads(body), many=True)
            reader.is_valid(raise_exception=True)
            reader.save()
        json.dumps(reader.data, default=str)

    return run


def timed(run: Callable[[], None], rows: int) -> float:
    """Return the seconds *run* takes on a fresh copy of the house."""
    for leftover in FOLDER.glob("curehouse.sqlite3*"):
        leftover.unlink()
    shutil.copy(FOLDER / "furnished", FOLDER / "curehouse.sqlite3")
    connection.ensure_connection()
    # A full collection walks all that Django and Celery loaded (70 ms); none pays for another's garbage.
    gc.collect()
    began = time.perf_counter()
    run()
    seconds = time.perf_counter() - began
    written = Reading.unscoped.count()
    connection.close()
    if written != rows:
        sys.exit(f"{written} of {rows} weighings were written")
    return seconds


def compare(arms: dict[str, Callable[[], None]], rows: int, rounds: int) -> dict[str, float]:
    """Return each arm's median seconds; the first round warms up and is not counted."""
    seconds: dict[str, list[float]] = {name: [] for name in arms}
    for number in range(rounds + 1):
        for name, run in arms.items():
            took = timed(run, rows)
            if number:
                seconds[name].append(took)
    for name, took in seconds.items():
        spread = " ".join(f"{1000 * one:.0f}" for one in sorted(took))
        print(f"{name:12} median {1000 * median(took):7.1f} ms   (all: {spread})")
    return {name: median(took) for name, took in seconds.items()}


def main(argv: Sequence[str] | None = None) -> int:
    """Run the comparison and print it."""
    parser = argparse.ArgumentParser(description="The bulk API beside raw SQL and a ModelSerializer.")
    for name, usual in (("rounds", 9), ("batches", 20), ("bars", 5), ("weeks", 10)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    options = parser.parse_args(argv)
    world, secret, rows = furnish(options.batches, options.bars, options.weeks)
    (FOLDER / "curehouse.sqlite3").rename(FOLDER / "furnished")
    print(f"{len(rows)} weighings: {options.batches} batches of {options.bars} sample bars over {options.weeks} weeks")
    arms = {"raw": raw_arm(world, rows), "bulk API": api_arm(secret, rows), "serializer": serializer_arm(world, rows)}
    medians = compare(arms, len(rows), options.rounds)
    times_raw = medians["bulk API"] / medians["raw"]
    times_faster = medians["serializer"] / medians["bulk API"]
    print(f"bulk API takes {times_raw:.1f} times raw (at most {MOST_TIMES_RAW}, aimed at 10)")
    print(f"bulk API is {times_faster:.1f} times faster than the serializer (at least {LEAST_TIMES_FASTER}, aimed at 7)")
    return int(times_raw > MOST_TIMES_RAW or times_faster < LEAST_TIMES_FASTER)


if __name__ == "__main__":
    try:
        code = main()
    finally:
        connection.close()
        shutil.rmtree(FOLDER, ignore_errors=True)
    sys.exit(code)
