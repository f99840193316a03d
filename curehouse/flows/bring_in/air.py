"""The kind *air*: the log of rooms, one row a reading or the mean of a day."""

import re
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.tables import Unreadable
from curehouse.curing.models import Room, RoomReading
from curehouse.curing.services.forecasts import want_learning
from curehouse.curing.services.room_log import AirEntry, celsius_of, check_air, known_air, record_air
from curehouse.curing.services.rooms import LONGEST_NAME, add_room
from curehouse.flows.bring_in.as_read import lines_as_read
from curehouse.flows.bring_in.batch_moments import Clock
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.header_units import Holds, words_of
from curehouse.flows.bring_in.laid_aside import Kept, Spool
from curehouse.flows.bring_in.lines import TWICE, Line, LinesRead, Needed, read_lines, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.work import Work

AIR_COLUMNS = (
    Column("room", "Room", "may be left out in a house with one room"),
    Column("read_on", "Read on", "a day, or a day with a time", Holds.DAY),
    Column("humidity", "Humidity", "relative, in %", Holds.PER_CENT),
    Column("temperature", "Temperature", "in °C, or °F where the header or the cell says so", Holds.FIGURE),
)
_DEGREES = re.compile(r"(.*?)\s*(?:°|deg\.?|º)?\s*([cf])(?:elsius|ahrenheit)?\.?", re.IGNORECASE | re.DOTALL)
_FAHRENHEIT = frozenset({"f", "fahrenheit", "degf"})
# Where a cell is refused, by the field that the house's own check names.
_COLUMN_OF = {"humidity_pct": "humidity", "temperature_c": "temperature", "moment": "read_on"}


def _humidity(cells: Cells, line: Line) -> Decimal:
    number, is_percent = cells.per_cent(line.cell("humidity"), unit=line.table.unit_of("humidity") or None)
    if 0 < number <= 1 and not is_percent:
        raise CellFault("is a part of one, or hardly any: type per cent, like 55")
    return number


def _temperature(cells: Cells, line: Line) -> Decimal:
    cell, degrees = line.cell("temperature"), ""
    if isinstance(cell, str) and not isinstance(cell, Unreadable):
        found = _DEGREES.fullmatch(cell.strip())
        if found is not None:
            cell, degrees = found[1], found[2].lower()
    number = cells.number(cell)
    is_fahrenheit = degrees == "f" if degrees else _header_says_fahrenheit(line)
    return celsius_of(number) if is_fahrenheit else number


def _header_says_fahrenheit(line: Line) -> bool:
    return bool(_FAHRENHEIT & set(words_of(line.table.header_of("temperature"))))


_READERS = {
    "room": text_of("room", longest=LONGEST_NAME),
    "read_on": lambda cells, line: cells.moment(line.cell("read_on")),
    "humidity": _humidity,
    "temperature": _temperature,
}
_NEEDED = {
    "read_on": Needed("Say which column tells when it was read.", "is empty: say when it was read"),
    "humidity": Needed("Say which column holds the humidity.", "is empty: say how damp it was, or leave the row out"),
}


def read_air(work: Work) -> LinesRead:
    """Read the log, without looking anything up."""
    return read_lines(work, AIR_COLUMNS, _READERS, needed=_NEEDED, figures=("humidity", "temperature"))


def take_in_air(work: Work, found: LinesRead) -> Outcome:
    """Hold the log against the house, and write what is new; a room that is not here comes in with it."""
    settling = _Settling(work, found)
    settling.settle()
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"rooms": len(settling.new_rooms), "room readings": len(settling.new)},
        known={"room readings": settling.known},
        as_read=lines_as_read(
            found,
            AIR_COLUMNS,
            otherwise={
                "humidity": lambda line: f"{line.facts['humidity'].normalize():f} %",
                "temperature": lambda line: f"{line.facts['temperature'].normalize():f} °C",
            },
        ),
    )
    if work.writes and not result.refused_rows and settling.new:
        _write(work, settling)
    return result


@dataclass(frozen=True, slots=True)
class _Settled:
    """A reading to be written, of a room by its name in small letters."""

    room: str
    entry: AirEntry


class _Settling:
    """Holds a log against the house."""

    def __init__(self, work: Work, found: LinesRead) -> None:
        self._work, self._found = work, found
        self._clock = Clock.of(work.workshop, work.at)
        self.rooms = {row.name.casefold(): row for row in Room.objects.within(work.workshop).order_by("pk")}
        self.new_rooms: dict[str, str] = {}
        self._first: Kept[tuple[int, Decimal, Decimal | None]] = Kept()
        self.new: Spool[_Settled] = Spool()
        self.known = 0

    def settle(self) -> None:
        """Settle every line; what is refused is among the findings."""
        done = 0
        for part in self._found.lines.parts():
            self._work.progress("checking", done, len(self._found.lines))
            settled = [(line, one) for line in part if (one := self._settled(line)) is not None]
            here = self._here([one for _line, one in settled])
            for line, one in settled:
                self._hold(line, one, here.get((one.room, one.entry.key)))
            done += len(part)

    def _here(self, settled: list[_Settled]) -> dict[tuple[str, str], RoomReading]:
        keys = defaultdict(list)
        for one in settled:
            if one.room in self.rooms:
                keys[one.room].append(one.entry.key)
        return {(name, key): row for name, wanted in keys.items() for key, row in known_air(self.rooms[name], wanted).items()}

    def _settled(self, line: Line) -> _Settled | None:
        """Return what a line says, or None where it cannot be taken or stood in the file before."""
        name = line.facts.get("room") or self._only_room(line)
        if name is None:
            return None
        when: date | datetime = line.facts["read_on"]
        entry = AirEntry(
            moment=self._clock.moment(when),
            humidity_pct=line.facts["humidity"],
            temperature_c=line.facts.get("temperature"),
            source=RoomReading.Source.IMPORT,
            key=f"file:{when.isoformat()}",
        )
        try:
            entry = check_air(entry, at=self._work.at)
        except Invalid as error:
            line.refuse(
                _COLUMN_OF.get(error.field or "", "read_on"), f"cannot be: {error.message[0].lower()}{error.message[1:-1]}"
            )
            return None
        said = (line.row.number, entry.humidity_pct, entry.temperature_c)
        first = self._first.setdefault(f"{name.casefold()}\n{entry.key}", said)
        if first[0] == line.row.number:
            return _Settled(self._room(name), entry)
        if first[1:] == said[1:]:
            self._found.findings.remark(TWICE)
        else:
            line.refuse("read_on", f"stands in row {first[0]} too, with other figures: leave one out")
        return None

    def _only_room(self, line: Line) -> str | None:
        if len(self.rooms) == 1 and not self._found.lines.table.has("room"):
            return next(iter(self.rooms.values())).name
        line.refuse(
            "room" if self._found.lines.table.has("room") else "humidity", "has no room: say in a column which one it is of"
        )
        return None

    def _room(self, name: str) -> str:
        key = name.casefold()
        if key not in self.rooms:
            self.new_rooms.setdefault(key, name)
        return key

    def _hold(self, line: Line, one: _Settled, row: RoomReading | None) -> None:
        if row is None:
            self.new.add(one)
        elif (row.humidity_pct, row.temperature_c) == (one.entry.humidity_pct, one.entry.temperature_c):
            self.known += 1
        else:
            said = f"came in before with {row.humidity_pct.normalize():f} %: withdraw that one if it was wrong"
            line.refuse("humidity", said)


def _write(work: Work, settling: _Settling) -> None:
    for key, name in settling.new_rooms.items():
        settling.rooms[key] = add_room(workshop=work.workshop, name=name)
    done = 0
    for part in settling.new.parts():
        work.progress("writing", done, len(settling.new))
        by_room: dict[str, list[AirEntry]] = defaultdict(list)
        for one in part:
            by_room[one.room].append(one.entry)
        for key, entries in sorted(by_room.items()):
            record_air(actor=work.actor, room=settling.rooms[key], entries=entries, at=work.at)
        done += len(part)
    want_learning(workshop=work.workshop, at=work.at)
    work.progress("writing", 1, 1)
