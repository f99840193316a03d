"""Cure logs as people keep them, made of the simulated cures in ``tests/data``."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from curehouse.flows.bring_in.door import FileGiven, bring_at_once, check_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from tests.world import World

DATA = Path(__file__).resolve().parents[2] / "data" / "cure_batches.csv"
FIRST_CUT = date(2023, 1, 9)
ENGLISH = ("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g")
GERMAN = ("Charge", "Rezept", "Probestück", "Wasseranteil", "Schnittdatum", "Wiegedatum", "Gewicht (g)")


@dataclass(frozen=True)
class LogRow:
    batch: str
    formula: str
    bar: str
    share: str
    day: int
    weight: str
    cut: date

    @property
    def on(self) -> date:
        return self.cut + timedelta(days=self.day)


def log(*, batches: int = 12, last_on: date | None = None) -> list[LogRow]:
    """Return the weighings of the first *batches*; with *last_on* each batch was weighed last on that day."""
    with DATA.open() as file:
        rows = list(csv.DictReader(file))
    names = list(dict.fromkeys(row["batch"] for row in rows))[:batches]
    last_day = {name: max(int(row["day"]) for row in rows if row["batch"] == name) for name in names}
    cuts = {
        name: FIRST_CUT + timedelta(days=5 * index) if last_on is None else last_on - timedelta(days=last_day[name])
        for index, name in enumerate(names)
    }
    return [
        LogRow(
            row["batch"],
            row["formula"],
            row["bar"],
            row["water_fraction"],
            int(row["day"]),
            row["weight_g"],
            cuts[row["batch"]],
        )
        for row in rows
        if row["batch"] in cuts
    ]


def write_csv(path: Path, headers: Sequence[str], rows: Iterable[Sequence[Any]], **dialect: Any) -> FileGiven:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, **dialect)
        writer.writerow(headers)
        writer.writerows(rows)
    return FileGiven(path.name, path)


def plain(folder: Path, rows: Sequence[LogRow], *, name: str = "log.csv") -> FileGiven:
    """Return the log with ISO dates, points and commas."""
    said = [(r.batch, r.formula, r.bar, r.share, r.cut, r.on, r.weight) for r in rows]
    return write_csv(folder / name, ENGLISH, said)


def by_day(folder: Path, rows: Sequence[LogRow], extra: Sequence[tuple[str, date]] = ()) -> tuple[FileGiven, FileGiven]:
    """Return the log by day numbers and the table of cut dates that goes with it."""
    said = [(r.batch, r.formula, r.bar, r.share, r.day, r.weight) for r in rows]
    weighings = write_csv(folder / "history.csv", ("batch", "formula", "bar", "water_fraction", "day", "weight_g"), said)
    cuts = sorted({(r.batch, r.cut) for r in rows} | set(extra))
    return weighings, write_csv(folder / "batches.csv", ("batch", "cut_date"), cuts)


def german(folder: Path, rows: Sequence[LogRow]) -> FileGiven:
    """Return the log with semicolons, decimal commas, days first and German headers."""
    said = [
        (
            r.batch,
            r.formula,
            r.bar,
            r.share.replace(".", ","),
            f"{r.cut:%d.%m.%Y}",
            f"{r.on:%d.%m.%Y}",
            r.weight.replace(".", ","),
        )
        for r in rows
    ]
    return write_csv(folder / "protokoll.csv", GERMAN, said, delimiter=";")


def spreadsheet(folder: Path, rows: Sequence[LogRow]) -> FileGiven:
    """Return the log as a spreadsheet program keeps it, with a title, blank rows and real dates."""
    book = Workbook()
    sheet = book.active
    sheet.append(["Our cures"])
    sheet.append([])
    sheet.append(ENGLISH)
    for index, r in enumerate(rows):
        sheet.append([r.batch, r.formula, r.bar, float(r.share), r.cut, r.on, float(r.weight)])
        if index % 40 == 0:
            sheet.append([])
    path = folder / "log.xlsx"
    book.save(path)
    return FileGiven(path.name, path)


def options_for(world: World, given: FileGiven, beside: FileGiven | None = None, **told: Any) -> Options:
    return first_options(
        world.actor, kind_called("batches"), given.path, beside.path if beside else None, Options(**told)
    )  # fmt: skip


def bring(world: World, given: FileGiven, beside: FileGiven | None = None, **told: Any) -> Outcome:
    return bring_at_once(
        actor=world.actor, kind="batches", given=given, beside=beside, at=world.now,
        options=options_for(world, given, beside, **told),
    )  # fmt: skip


def dry_run(world: World, given: FileGiven, beside: FileGiven | None = None, **told: Any) -> Outcome:
    return check_at_once(
        actor=world.actor, kind="batches", given=given, beside=beside, at=world.now,
        options=options_for(world, given, beside, **told),
    )  # fmt: skip
