"""In which room a batch stood when, and the log of the air that it therefore hears.

A batch stands where most of its bars do, at the end of a day, and a rack where the last row about it says. What has
no place, or stands on a rack of which nobody said where it is, counts as in the house's usual room: the first one that
was entered. A batch's room has a key: empty for the usual room (and in a house that names none), a number for another,
and ``5>7@739120`` for one that was carried from the fifth to the seventh on a day; its log is then made of both.
"""

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise

from curehouse.common.steps import in_steps
from curehouse.common.time import local_day
from curehouse.curing.models import Placement, Position, RackRoom, Room, RoomDay
from curehouse.curing.models.rooms import mean_of
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

_USUAL = ""
# What is said of a room's air since the cut wants at least so many days of it, and so large a part of them.
_LEAST_DAYS, _LEAST_PART = 7, 0.5


@dataclass(frozen=True, slots=True)
class Stood:
    """The rooms of a batch (their keys) with the day (an ordinal) from which it stood there; the first from ever."""

    steps: tuple[tuple[int, int], ...]
    usual: int | None

    def key(self, until: int) -> str:
        """Return the key of where it stood up to a day."""
        first, *later = [step for place, step in enumerate(self.steps) if place == 0 or step[0] <= until]
        names = [self._name(first[1]), *(f"{self._name(room)}@{day}" for day, room in later)]
        return ">".join(names)

    def _name(self, room: int) -> str:
        return _USUAL if room == self.usual else f"{room}"

    def room_on(self, day: int) -> int:
        """Return the room it stood in on a day."""
        return self.steps[max(bisect_right([begin for begin, _room in self.steps], day) - 1, 0)][1]


class Rooms:
    """The rooms of a workshop, and which batches stood where (one query; three more where there are several)."""

    def __init__(self, workshop: Workshop, batches: Iterable[Batch]) -> None:
        self.workshop = workshop
        self.keys = list(Room.objects.within(workshop).order_by("pk").values_list("pk", flat=True))
        self.usual = self.keys[0] if self.keys else None
        self._batches = {batch.pk: batch for batch in batches}

    def stood(self, batch_id: int) -> Stood:
        """Return where a batch stood; in a house without rooms, or with one, always there."""
        return self._several.get(batch_id) or Stood(((0, self.usual or 0),), self.usual or 0)

    @cached_property
    def _several(self) -> dict[int, Stood]:
        if len(self.keys) < 2:
            return {}
        racks = _RackRooms(self.workshop, self.usual or 0)
        on_rack = dict(Position.objects.within(self.workshop).values_list("pk", "rack"))
        moves: dict[int, list[tuple[int, int | None, int | None, int]]] = defaultdict(list)
        for part in in_steps(sorted(self._batches)):
            rows = Placement.objects.within(self.workshop).filter(batch__in=part).order_by("at", "pk")
            for batch, at, origin, target, bars in rows.values_list("batch", "at", "origin", "target", "bars"):
                day = local_day(at, self.workshop.time_zone).toordinal()
                moves[batch].append((day, on_rack.get(origin), on_rack.get(target), bars))
        return {batch: _stood(own, racks) for batch, own in moves.items()}


class _RackRooms:
    """In which room each rack stands from which day on."""

    def __init__(self, workshop: Workshop, usual: int) -> None:
        self.usual = usual
        self._rows: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for rack, room, since in RackRoom.objects.within(workshop).order_by("pk").values_list("rack", "room", "since"):
            self._rows[rack].append((since.toordinal() if since else 0, room))

    def room_of(self, rack: int, day: int) -> int:
        """Return the room of a rack on a day: the last row that speaks of it."""
        return next((room for since, room in reversed(self._rows[rack]) if since <= day), self.usual)

    def days_of(self, rack: int) -> list[int]:
        """Return the days on which a rack may have come to stand elsewhere."""
        return [since for since, _room in self._rows[rack]]


def _stood(moves: Sequence[tuple[int, int | None, int | None, int]], racks: _RackRooms) -> Stood:
    """Return where a batch stood by what was carried on which day (oldest first) from which rack to which."""
    bars: Counter[int] = Counter()
    held: dict[int, Counter[int]] = {}
    for day, origin, target, count in moves:
        for rack, change in ((origin, -count), (target, count)):
            if rack is not None:
                bars[rack] += change
        held[day] = Counter({rack: count for rack, count in bars.items() if count > 0})
    ends = sorted({*held, *(day for rack in bars for day in racks.days_of(rack) if day > moves[0][0])})
    steps: list[tuple[int, int]] = []
    known, now = sorted(held), Counter[int]()
    for day in ends:
        now = held[known[bisect_right(known, day) - 1]] or now
        rooms: Counter[int] = Counter()
        for rack, count in now.items():
            rooms[racks.room_of(rack, day)] += count
        room = min(rooms, key=lambda one: (-rooms[one], one)) if rooms else racks.usual
        if not steps or steps[-1][1] != room:
            # Where it was put first it stood from the cut on, whenever somebody got round to saying so.
            steps.append((day if steps else 0, room))
    return Stood(tuple(steps), racks.usual)


def racks_by_room(workshop: Workshop, racks: Iterable[int], *, day: date) -> dict[int, list[int]]:
    """Return by room which racks stand there on a day, in the order they came in (two queries)."""
    usual = Room.objects.within(workshop).order_by("pk").values_list("pk", flat=True).first()
    found: dict[int, list[int]] = defaultdict(list)
    if usual is not None:
        standing = _RackRooms(workshop, usual)
        for rack in racks:
            found[standing.room_of(rack, day.toordinal())].append(rack)
    return found


LogDay = tuple[int, float, float | None]


def days_by_key(workshop: Workshop, keys: Iterable[str], *, before: date) -> dict[str, list[LogDay]]:
    """Return the log that belongs to each key, day by day before a day (two queries); of one without there is none.

    A day counts once it is over: until then its mean would be another one with every reading.
    """
    wanted = set(keys)
    usual = Room.objects.within(workshop).order_by("pk").values_list("pk", flat=True).first() if wanted else None
    if usual is None:
        return {}
    paths = {key: _path(key, usual) for key in wanted}
    rooms = {room for path in paths.values() for _begin, room in path}
    days: dict[int, list[LogDay]] = defaultdict(list)
    rows = RoomDay.objects.within(workshop).filter(room__in=rooms, day__lt=before).with_readings()
    # Bare columns: of five years there are thousands, and they are asked for with each handful of forecasts.
    for room, day, humidity, readings, temperature, warm in rows.values_list(
        "room", "day", "humidity_sum", "readings", "temperature_sum", "temperatures"
    ):
        celsius = mean_of(temperature, warm) if warm else None
        days[room].append((day.toordinal(), mean_of(humidity, readings), celsius))
    found = {key: _joined(path, days) for key, path in paths.items()}
    return {key: log for key, log in found.items() if log}


def _path(key: str, usual: int) -> list[tuple[int, int]]:
    """Return the rooms that a key names, each with its first day."""
    path = []
    for place, part in enumerate(key.split(">")):
        room, _, day = part.partition("@")
        path.append((int(day) if place else 0, int(room) if room else usual))
    return path


def _joined(path: Sequence[tuple[int, int]], days: Mapping[int, Sequence[LogDay]]) -> list[LogDay]:
    ends = [*path, (date.max.toordinal() + 1, 0)]
    return [day for (begin, room), (end, _) in pairwise(ends) for day in days.get(room, ()) if begin <= day[0] < end]


def humidity_since_cut(batch: Batch, workshop: Workshop, *, days: int) -> float | None:
    """Return the mean humidity in % of where a batch stood in so many days from its cut; None where too few are known.

    One query where there is no room, two with one, five with several.
    """
    rooms = Rooms(workshop, [batch])
    if not rooms.keys or batch.cut_at is None:
        return None
    first = local_day(batch.cut_at, workshop.time_zone)
    last = first + timedelta(days=days)
    stood = rooms.stood(batch.pk)
    rows = RoomDay.objects.within(workshop).filter(day__gte=first, day__lte=last).with_readings()
    means = [row.humidity_pct for row in rows if row.room_id == stood.room_on(row.day.toordinal())]
    enough = max(_LEAST_DAYS, _LEAST_PART * (days + 1))
    return sum(means) / len(means) if len(means) >= enough else None
