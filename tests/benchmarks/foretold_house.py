"""What learning, forecasts and a night cost: ``python -m tests.benchmarks.foretold_house FOLDER [--lately]``.

FOLDER holds ``history.csv`` and ``current_k4.csv`` (batch, formula, bar, water_fraction, day, weight_g) and
``batches.csv`` (batch, cut_date), ``room.csv`` (date, rh_pct). The history comes in as closed, the current batches as
still in the cure. Held to: all current batches foretold within a minute of their coming in; a night for 200 batches in
cure at most 5 s of CPU, and one in which nothing changed at most 0.2 s; the same once half of all batches stand in a
second room, and both rooms have a log. Ends with 1 if one of these is missed.

The current batches of the files were last weighed over many months, which no house's are. With ``--lately`` they are
instead as in a house of today: the history was weighed up to yesterday, and 201 batches were cut in the last eight
weeks, one after the other, each weighed as one of the history was, up to yesterday too.
"""

import csv
import logging
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from pathlib import Path

FOLDER = Path(tempfile.mkdtemp(prefix="curehouse-bench-"))
os.environ |= {"CUREHOUSE_DATA": str(FOLDER), "DJANGO_SETTINGS_MODULE": "curehouse.settings"}
for _name in ("DATABASE_URL", "REDIS_URL"):
    os.environ.pop(_name, None)

import django  # noqa: E402  (the folder comes first)

django.setup()

from django.core.management import call_command  # noqa: E402
from django.utils import timezone  # noqa: E402

from curehouse.curing.models import Cure, Placement, RoomReading  # noqa: E402
from curehouse.curing.services.forecasts import read_anew  # noqa: E402
from curehouse.curing.services.room_log import AirEntry, record_air  # noqa: E402
from curehouse.curing.services.rooms import add_room, put_rack_in  # noqa: E402
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options  # noqa: E402
from curehouse.flows.bring_in.kinds import kind_called  # noqa: E402
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell  # noqa: E402
from curehouse.making.models import Batch  # noqa: E402
from tests.world import World  # noqa: E402

MOST_SECONDS, MOST_NIGHT_CPU, MOST_IDLE_CPU = 60.0, 5.0, 0.2
NIGHT_BATCHES = 200
# With --lately: so long ago the oldest batch in cure was cut.
LATELY_DAYS = 56


@dataclass(frozen=True)
class Files:
    """The files of a folder; with *lately* moved along to today (a day of the calendar)."""

    folder: Path
    lately: bool
    today: date

    def rows(self, name: str) -> list[dict[str, str]]:
        with (self.folder / f"{name}.csv").open() as file:
            return list(csv.DictReader(file))

    def cuts(self) -> dict[str, date]:
        return {row["batch"]: date.fromisoformat(row["cut_date"]) for row in self.rows("batches")}

    @cached_property
    def later(self) -> timedelta:
        """By how much dates are later than in the files."""
        cuts = self.cuts()
        last = max(cuts[row["batch"]] + timedelta(days=float(row["day"])) for row in self.rows("history"))
        return self.today - timedelta(days=1) - last if self.lately else timedelta(0)

    def weighings(self) -> Iterator[tuple[dict[str, str], date, str]]:
        """Yield weighings with the day of the cut, and whether the batch cures still."""
        cuts, history = self.cuts(), self.rows("history")
        for row in history:
            yield row, cuts[row["batch"]] + self.later, "no"
        if not self.lately:
            yield from ((row, cuts[row["batch"]], "yes") for row in self.rows("current_k4"))
            return
        by_batch: dict[str, list[dict[str, str]]] = {}
        for row in history:
            by_batch.setdefault(row["batch"], []).append(row)
        like = list(by_batch.values())
        for number in range(NIGHT_BATCHES + 1):
            age = 1 + LATELY_DAYS - number * LATELY_DAYS // NIGHT_BATCHES
            for row in like[number % len(like)]:
                if float(row["day"]) < age:
                    yield {**row, "batch": f"lately {number:03}"}, self.today - timedelta(days=age), "yes"


def log_of(files: Files) -> FileGiven:
    """Write one cure log of both files, with dates."""
    path = FOLDER / "log.csv"
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow(("batch", "formula", "bar", "water_fraction", "cut_date", "day", "weight_g", "still curing"))
        for row, cut_on, curing in files.weighings():
            told = [row[key] for key in ("batch", "formula", "bar", "water_fraction")]
            writer.writerow((*told, cut_on, row["day"], row["weight_g"], curing))
    return FileGiven(path.name, path)


def timed(what: str, run: object) -> tuple[float, float]:
    """Run, print, and return seconds of the clock and of the CPU."""
    clock, cpu = time.perf_counter(), time.process_time()
    found = run()
    took = time.perf_counter() - clock, time.process_time() - cpu
    print(f"{what:58} {took[0]:6.1f} s, CPU {took[1]:6.2f} s   ({found})")
    return took


def stand_in_two_rooms(world: World, files: Files) -> None:
    """Let every other batch stand in a second room since its cut, and both rooms have a log, one damper than the other."""
    rooms = [add_room(workshop=world.workshop, name=name) for name in ("Loft", "Cellar")]
    placed = []
    for number, room in enumerate(rooms):
        rack = world.rack(room.name, levels=1, places=1, capacity=5000)
        put_rack_in(actor=world.actor, rack=rack, room=room, since=None, at=world.now)
        position = world.position(rack)
        for batch in Batch.objects.within(world.workshop).order_by("pk")[number::2]:
            placed.append(
                Placement(
                    workshop=world.workshop, batch=batch, act=Placement.Act.PLACED, bars=1, target=position, at=batch.cut_at,
                    written_at=world.now, **world.actor.signature,
                )
            )  # fmt: skip
        log = files.rows("room")
        known = [(date.fromisoformat(row["date"]) + files.later, Decimal(row["rh_pct"]) + 5 * number) for row in log]
        moments = [(datetime.fromisoformat(f"{day}T12:00+00:00"), humidity) for day, humidity in known]
        entries = [
            AirEntry(moment, min(humidity, Decimal(100)), None, RoomReading.Source.IMPORT, f"{moment.date()}")
            for moment, humidity in moments
            if moment < world.now
        ]
        record_air(actor=world.actor, room=room, entries=entries, at=world.now)
    Placement.unscoped.bulk_create(placed, batch_size=500)
    read_anew(workshop=world.workshop, at=world.now)


def main() -> int:
    """Measure, print, and return 1 if a limit is passed."""
    call_command("migrate", verbosity=0)
    logging.disable(logging.INFO)
    world = World(now=timezone.now())
    files = Files(Path(sys.argv[1]), "--lately" in sys.argv[2:], world.now.date())
    given = log_of(files)
    options = first_options(world.actor, kind_called("batches"), given.path, None)
    key, at = world.workshop.pk, world.now

    def bring() -> object:
        return dict(bring_at_once(actor=world.actor, kind="batches", given=given, beside=None, options=options, at=at).adds)

    timed("the log comes in", bring)
    first, _ = timed("learnt, and all in cure foretold", lambda: learn_and_foretell(workshop_id=key, at=at))
    curing = Cure.objects.within(world.workshop).filter(ended_at__isnull=True)
    left = curing.filter(forecast__isnull=True).count()
    print(f"{curing.count()} in cure, {left} without a forecast")
    # The ones left out ended before anybody learnt: as if they had never come in.
    keep = list(curing.order_by("-batch__cut_at").values_list("pk", flat=True)[: NIGHT_BATCHES + 1])
    curing.exclude(pk__in=keep).update(ended_at=at, due_on=None, forecast_wanted_at=None, record=None, last_reading=None)
    learn_and_foretell(workshop_id=key, at=at + timedelta(days=1))
    # One more ended: what is learnt from, and so every prior, every width and every forecast, is another.
    curing.filter(pk=keep[-1]).update(ended_at=at, due_on=None, forecast_wanted_at=None)
    _, night = timed(
        f"a night after one of {len(keep)} ended: all learnt and foretold anew",
        lambda: learn_and_foretell(workshop_id=key, at=at + timedelta(days=2)),
    )
    _, idle = timed("a night in which nothing changed", lambda: learn_and_foretell(workshop_id=key, at=at + timedelta(days=3)))
    curing.filter(pk=keep[0]).update(forecast_wanted_at=at)
    timed("one batch that was weighed", lambda: foretell_wanting(workshop_id=key, at=at))
    stand_in_two_rooms(world, files)
    timed("both rooms have a log: all learnt anew", lambda: learn_and_foretell(workshop_id=key, at=at + timedelta(days=4)))
    curing.filter(pk=keep[-2]).update(ended_at=at, due_on=None, forecast_wanted_at=None)
    _, heard = timed(
        f"a night with two logs after one of {len(keep) - 1} ended",
        lambda: learn_and_foretell(workshop_id=key, at=at + timedelta(days=5)),
    )
    by_log = curing.filter(forecast__room__isnull=False, pk__in=keep).count()
    print(f"{by_log} hear a log")
    _, quiet = timed(
        "a night with two logs, nothing changed", lambda: learn_and_foretell(workshop_id=key, at=at + timedelta(6))
    )
    missed = [first > MOST_SECONDS, max(night, heard) > MOST_NIGHT_CPU, max(idle, quiet) > MOST_IDLE_CPU, left > 0]
    print("missed" if any(missed) else "held", missed)
    return int(any(missed))


if __name__ == "__main__":
    try:
        code = main()
    finally:
        shutil.rmtree(FOLDER, ignore_errors=True)
    sys.exit(code)
