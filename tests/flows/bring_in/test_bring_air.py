"""The log of rooms comes in: several rooms by a column, as loggers and people write it, whole or not at all, once."""

from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from openpyxl import Workbook

from curehouse.curing.models import CureLearning, Room, RoomDay, RoomReading
from curehouse.curing.services.rooms import add_room
from curehouse.flows.bring_in.door import FileGiven
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.flows.log_air import withdraw
from tests.flows.bring_in.logs import write_csv
from tests.flows.bring_in.test_bring_stock import _folder, bring
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]
ZONE = ZoneInfo("Europe/Berlin")
HEADERS = ("Room", "Date", "Humidity (%)", "Temperature (°C)")
ROWS = (
    ("Cellar", "2026-03-01 08:00", "71.5", "14.25"),
    ("Loft", "2026-03-01 08:00", "48", "19"),
    ("Cellar", "2026-03-02", "70", ""),
)


def air(world: World, folder: Path, *rows: tuple[str, ...], headers: tuple[str, ...] = HEADERS, **told: Any) -> Outcome:
    return bring(world, "air", write_csv(folder / "air.csv", headers, rows), **told)


def kept(world: World) -> list[tuple[str, str, Decimal, Decimal | None]]:
    rows = RoomReading.objects.within(world.workshop).select_related("room").order_by("moment", "room__name")
    return [(row.room.name, f"{row.moment.astimezone(ZONE):%d %H:%M}", row.humidity_pct, row.temperature_c) for row in rows]


def refused(outcome: Outcome) -> list[tuple[str, str]]:
    return [(one.cell, one.why) for one in outcome.refusals]


def test_several_rooms_come_in_by_a_column_and_the_same_file_twice_adds_nothing(world: World, tmp_path: Path) -> None:
    outcome = air(world, tmp_path, *ROWS)
    assert (outcome.refused_rows, dict(outcome.adds)) == (0, {"rooms": 2, "room readings": 3}), outcome
    assert kept(world) == [
        ("Cellar", "01 08:00", Decimal("71.50"), Decimal("14.25")),
        ("Loft", "01 08:00", Decimal(48), Decimal(19)),
        ("Cellar", "02 12:00", Decimal(70), None),
    ]
    assert outcome.as_read.rows[0][1:] == ("Cellar", "1 March 2026, 08:00", "71.5 %", "14.25 °C")
    assert CureLearning.objects.within(world.workshop).get().wanted_at is not None
    again = air(world, tmp_path, *ROWS)
    assert again.adds_nothing and again.known["room readings"] == 3
    more = air(world, tmp_path, *ROWS, ("Cellar", "2026-03-03", "69", "14"))
    assert (more.adds["room readings"], more.known["room readings"]) == (1, 3)
    assert RoomDay.objects.within(world.workshop).count() == 4


def test_a_german_log_with_decimal_commas_and_days_first_comes_in(world: World, tmp_path: Path) -> None:
    given = write_csv(
        tmp_path / "log.csv",
        ("Raum", "Zeitpunkt", "Luftfeuchte", "Temperatur"),
        [("Keller", "03.02.2026 14:30", "61,5 %", "-2,5 °C"), ("Keller", "04.02.2026", "62,25", "18,5")],
        delimiter=";",
    )
    outcome = bring(world, "air", given, date_order="dmy")
    assert outcome.refused_rows == 0, outcome
    assert [(row[2], row[3]) for row in kept(world)] == [
        (Decimal("61.50"), Decimal("-2.50")),
        (Decimal("62.25"), Decimal("18.50")),
    ]
    asked = bring(world, "air", given)
    assert {why for _cell, why in refused(asked)} == {"can be read day first or month first: say which"}


@pytest.mark.parametrize(
    ("header", "cell", "celsius"),
    [
        ("Temp F", "65.3", "18.50"),
        ("Temperature (°F)", "68", "20"),
        ("Temperature", "68 °F", "20"),
        ("temperature_c", "20", "20"),
    ],
)
def test_fahrenheit_is_read_where_header_or_cell_says_so(
    world: World, tmp_path: Path, header: str, cell: str, celsius: str
) -> None:
    outcome = air(world, tmp_path, ("Cellar", "2026-03-01", "60", cell), headers=("Room", "Date", "rh_pct", header))
    assert outcome.refused_rows == 0, outcome
    assert kept(world)[0][3] == Decimal(celsius)


def test_a_spreadsheet_comes_in(world: World, tmp_path: Path) -> None:
    book, path = Workbook(), tmp_path / "air.xlsx"
    book.active.append(HEADERS)
    book.active.append(("Cellar", datetime(2026, 3, 1, 8, 0), 0.615, 14.5))  # noqa: DTZ001  (a spreadsheet's time has no zone)
    book.active["C2"].number_format = "0.0%"
    book.save(path)
    outcome = bring(world, "air", FileGiven(path.name, path))
    assert outcome.refused_rows == 0, outcome
    assert kept(world) == [("Cellar", "01 08:00", Decimal("61.50"), Decimal("14.50"))]


def test_what_cannot_be_is_refused_with_its_cell_and_nothing_comes_in(world: World, tmp_path: Path) -> None:
    outcome = air(
        world,
        tmp_path,
        ROWS[0],
        ("Cellar", "2026-03-03", "101", "14"),
        ("Cellar", "2026-03-04", "60", "71"),
        ("Cellar", "2027-03-04", "60", "14"),
        ("Cellar", "2026-03-05", "0.61", "14"),
        ("Cellar", "2026-03-06", "damp", "14"),
        ("Cellar", "2026-03-01 08:00", "72", "14.25"),
        ("", "2026-03-07", "60", "14"),
    )
    cells = refused(outcome)
    assert [cell for cell, _why in cells] == ["C3", "D4", "B5", "C6", "C7", "B8", "A9"], cells
    said = " | ".join(why for _cell, why in cells)
    for words in ("between 0 and 100 %", "°C or °F", "future", "type per cent", "is no number", "row 2 too", "has no room"):
        assert words in said, said
    assert not Room.objects.within(world.workshop).exists() and kept(world) == []


def test_without_a_column_a_log_is_of_the_only_room_there_is(world: World, tmp_path: Path) -> None:
    headers, row = ("date", "rh_pct", "temperature_c"), ("2026-03-01", "60", "18")
    (refusal,) = refused(air(world, tmp_path, row, headers=headers))
    assert "has no room" in refusal[1]
    add_room(workshop=world.workshop, name="Drying room")
    assert air(world, tmp_path, row, headers=headers).adds["room readings"] == 1
    add_room(workshop=world.workshop, name="Cellar")
    assert air(world, tmp_path, row, headers=headers).refused_rows == 1


def test_what_differs_from_what_came_in_before_is_refused_and_what_was_withdrawn_stays_so(world: World, tmp_path: Path) -> None:
    air(world, tmp_path, ROWS[0])
    (refusal,) = refused(air(world, tmp_path, (*ROWS[0][:2], "80", "14.25")))
    assert refusal[0] == "C2" and "came in before with 71.5 %" in refusal[1]
    reading = RoomReading.objects.within(world.workshop).get()
    withdraw(actor=world.actor, reading=reading, reason="another room's", at=world.now)
    assert air(world, tmp_path, ROWS[0]).adds_nothing
    assert reading.moment == datetime(2026, 3, 1, 8, tzinfo=ZONE)
    assert not RoomDay.objects.within(world.workshop).with_readings().exists()
