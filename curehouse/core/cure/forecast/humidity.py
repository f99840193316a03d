"""A room's log: what the air has given bars to soak up, how well it dries, and how it may go on."""

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

import numpy as np

from .batches import RoomDay, WeighedBatch
from .prior import Floats

# Bars follow the air with this delay.
SOAK_DAYS = 8.0
POINTS = 10.0
# The first weeks' air tells most of how fast a batch dries.
DRYING_DAYS = 14.0
USUAL_C = 20.0
# At 20 °C and 55 %.
USUAL_DEFICIT_HPA = 10.5
_YEAR = 365.25
# What is taken to hold of a room before its log is long, in tens of points: its level, its season, its spells,
# and how much of a spell is left a week later. Common experience, no source.
_LEVEL, _LEVEL_SD, _SEASON_SD, _SPELL_SD, _KEEPS_A_WEEK = 5.5, 1.5, 0.7, 0.7, 0.5
_WORTH_DAYS = 120.0
# No spell is taken to fade faster or slower than this a day.
_FASTEST, _SLOWEST = 0.80, 0.985
_WETTEST_PCT = 99.0
# What is drawn of the air is drawn so many days at a time: fewer are the first of more.
_STRETCH = 64


class RoomLog:
    """A room's humidity by the day, made ready to be looked up.

    Parameters
    ----------
    days
        The log in any order; gaps are filled by what lies around them. Days without a temperature are taken to be
        as warm as those around them, and to be at 20 °C where no day has one.

    Raises
    ------
    ValueError
        If it is empty, a humidity is not between 0 and 100 %, or a temperature is not one of a room.
    """

    def __init__(self, days: Sequence[RoomDay]) -> None:
        if not days:
            raise ValueError("a room log needs at least one day")
        if any(not 0 <= one.humidity_pct <= 100 for one in days):
            raise ValueError("a humidity must lie between 0 and 100 %")
        if any(one.temperature_c is not None and not -20 <= one.temperature_c <= 60 for one in days):
            raise ValueError("a room's temperature must lie between -20 and 60 °C")
        ordered = tuple(sorted(days, key=lambda one: one.day))
        warm = [(float(one.day), one.temperature_c) for one in ordered if one.temperature_c is not None]
        known = np.array([(one.day, one.humidity_pct) for one in ordered], dtype=float)
        self._lay(ordered, known, np.array(warm, dtype=float).reshape(-1, 2))

    def _lay(self, ordered: tuple[RoomDay, ...], known: Floats, warm: Floats) -> None:
        """Fill the gaps between days in order; *known* and *warm* are rows of an ordinal and its humidity or temperature."""
        self._days, self._known, self._warm = ordered, known, warm
        self._until = dict[int, RoomLog | None]()
        self.first, self.last = ordered[0].day, ordered[-1].day
        every = np.arange(self.last - self.first + 1.0)
        self.points = np.interp(every, known[:, 0] - self.first, known[:, 1]) / POINTS
        celsius = np.interp(every, warm[:, 0] - self.first, warm[:, 1]) if len(warm) else np.full(len(every), USUAL_C)
        self.drying = np.log(pressure_deficit_hpa(self.points * POINTS, celsius))

    def until(self, day: int) -> "RoomLog | None":
        """Return the log as it stands up to a day, or None where it has nothing so early.

        A gap is filled from both its sides: what was written after that day must not reach back over one.
        """
        if day not in self._until:
            count = int(np.searchsorted(self._known[:, 0], day, side="right"))
            self._until[day] = (self if count == len(self._days) else self._first_days(count)) if count else None
        return self._until[day]

    def _first_days(self, count: int) -> "RoomLog":
        """Return the log of its first days, which were looked through when it was made."""
        part, last = object.__new__(RoomLog), self._known[count - 1, 0]
        warm = int(np.searchsorted(self._warm[:, 0], last, side="right"))
        part._lay(self._days[:count], self._known[:count], self._warm[:warm])
        return part

    @property
    def days(self) -> tuple[RoomDay, ...]:
        """Return the days it was made of, in order."""
        return self._days

    def covers(self, cut: int, last: int) -> bool:
        """Whether the log reaches from the cut to a day (proleptic ordinals)."""
        return self.first <= cut and last <= self.last + 3

    def dried_by(self, cut: int, known_to: int) -> float:
        """Return how well the air dries since the cut: the log of its pressure deficit over a usual one.

        Early days count most, those after `known_to` for as dry as the log so far. Nothing after `known_to` is looked at.
        """
        known = self.drying[: min(known_to, self.last) - self.first + 1] - np.log(USUAL_DEFICIT_HPA)
        mean = float(known.mean())
        since = known[cut - self.first :] - mean
        ages = np.exp(-np.arange(len(since)) / DRYING_DAYS)
        return mean + float((since * ages).sum() * (1 - np.exp(-1 / DRYING_DAYS)))

    def paths(self, cut: int, known_to: int, horizon: int, draws: int) -> Floats:
        """Return what the air has soaked in since the cut, (draws, horizon + 1), in tens of points.

        What lies after `known_to` is drawn: a level and a season as well as the log knows them, and spells that fade
        as those before did. Nothing after `known_to` is looked at.
        """
        known_to = min(known_to, self.last)
        known = self.points[: known_to - self.first + 1]
        start = cut - self.first
        path = np.empty((draws, horizon + 1))
        seen = min(len(known) - start, horizon + 1)
        path[:, :seen] = known[start : start + seen]
        if seen < horizon + 1:
            path[:, seen:] = _ahead(self, known_to, -(-(horizon + 1 - seen) // _STRETCH) * _STRETCH, draws)[
                :, : horizon + 1 - seen
            ]
        return _soaked(path, known[max(start - 30, 0) : start])


@lru_cache(maxsize=32)
def _ahead(log: RoomLog, known_to: int, days: int, draws: int) -> Floats:
    """Return (draws, days) of humidity after what is known of a log: many batches were weighed on one day."""
    return _gone_on(log.points[: known_to - log.first + 1], log.first, days, draws)


# The logs of rooms by their names, or one that is that of all.
Rooms = RoomLog | Mapping[str, RoomLog]


def log_of(batch: WeighedBatch, room: Rooms | None) -> RoomLog | None:
    """Return the log of a batch's room as known when it was last weighed, if it reaches over the batch's weighings."""
    log = room.get(batch.room) if isinstance(room, Mapping) else room
    if log is None or batch.cut_day is None:
        return None
    last = last_weighed_day(batch)
    known = log.until(last)
    return known if known is not None and known.covers(batch.cut_day, last) else None


def last_weighed_day(batch: WeighedBatch) -> int:
    """Return the day (an ordinal) up to which a batch hears the log of its room."""
    return math.ceil((batch.cut_day or 0) + batch.last_day)


def heard_part(batches: Iterable[WeighedBatch], room: Rooms) -> dict[str, RoomLog]:
    """Return of each room's log what these batches hear of it: nothing of a room in which it reaches over none."""
    until: dict[str, int] = {}
    for batch in batches:
        if log_of(batch, room) is not None:
            until[batch.room] = max(last_weighed_day(batch), until.get(batch.room, 0))
    logs = {name: room[name] if isinstance(room, Mapping) else room for name in until}
    return {name: known for name, day in until.items() if (known := logs[name].until(day)) is not None}


def pressure_deficit_hpa(humidity_pct: Floats, celsius: Floats) -> Floats:
    """Return by how much the vapour's pressure falls short of saturation: what drives drying.

    Magnus' formula with the constants of Alduchov and Eskridge (1996), J. Appl. Meteor. 35, 601-609, eq. 21.
    """
    saturated = 6.1094 * np.exp(17.625 * celsius / (celsius + 243.04))
    out: Floats = saturated * (1 - np.minimum(humidity_pct, _WETTEST_PCT) / 100)
    return out


def _season_basis(ordinals: Floats) -> Floats:
    angle = 2 * np.pi * ordinals / _YEAR
    return np.stack([np.ones_like(angle), np.cos(angle), np.sin(angle)], axis=-1)


def _gone_on(known: Floats, first: int, days: int, draws: int) -> Floats:
    """Return (draws, days) of humidity after a log's end: a season, and spells that fade (autoregression of order one)."""
    basis = _season_basis(first + np.arange(len(known), dtype=float))
    keeps, spell_var = _KEEPS_A_WEEK ** (1 / 7), _SPELL_SD**2
    prior = np.diag([_LEVEL_SD**-2, _SEASON_SD**-2, _SEASON_SD**-2])
    usual = np.array([_LEVEL, 0.0, 0.0])
    for _ in range(2):
        # Each day but for what the day before foretells of it; the first whole.
        news = np.vstack([basis[:1], (basis[1:] - keeps * basis[:-1]) / np.sqrt(1 - keeps**2)])
        said = np.concatenate([known[:1], (known[1:] - keeps * known[:-1]) / np.sqrt(1 - keeps**2)])
        precision = prior + news.T @ news / spell_var
        season = np.linalg.solve(precision, prior @ usual + news.T @ said / spell_var)
        keeps, spell_var = _spells(known - basis @ season)
    rng = np.random.default_rng(7919)
    # By rows of days, so that those of fewer days are the first of those of more.
    normal = rng.standard_normal((3 + days, draws))
    drawn = season + np.linalg.solve(np.linalg.cholesky(precision).T, normal[:3]).T
    rest = known[-7:] - drawn @ basis[-7:].T
    # Of the last days' difference what does not fade within days.
    state = rest.mean(axis=1)
    # Days in rows, so that each is written side by side.
    out = np.empty((days, draws))
    normal *= np.sqrt(spell_var * (1 - keeps**2))
    for day in range(days):
        state *= keeps
        state += normal[3 + day]
        out[day] = state
    ahead = _season_basis(first + len(known) + np.arange(days, dtype=float))
    out += drawn[:, 0] * ahead[:, :1] + drawn[:, 1] * ahead[:, 1:2] + drawn[:, 2] * ahead[:, 2:]
    return np.clip(out.T, 0.0, 100 / POINTS)


def _spells(rest: Floats) -> tuple[float, float]:
    """Return how much of a spell is left a day later and the spells' variance, as they were a week and two apart."""
    usual = _SPELL_SD**2 * np.array([_KEEPS_A_WEEK, _KEEPS_A_WEEK**2])
    found = np.array([(rest[lag:] * rest[:-lag]).sum() if len(rest) > lag else 0.0 for lag in (7, 14)])
    counts = np.array([max(len(rest) - lag, 0) for lag in (7, 14)])
    week, fortnight = (found + _WORTH_DAYS * usual) / (counts + _WORTH_DAYS)
    week = max(week, 0.1 * usual[0])
    keeps = float(np.clip((max(fortnight, 0.0) / week) ** (1 / 7), _FASTEST, _SLOWEST))
    return keeps, float(week / keeps**7)


def _soaked(path: Floats, before: Floats) -> Floats:
    """Low-pass a path; what went before the cut sets where it starts."""
    keep = float(np.exp(-1.0 / SOAK_DAYS))
    takes = 1 - keep
    first: float | None = None
    for value in before.tolist():
        first = keep * (value if first is None else first) + takes * value
    if len(path) == 1:
        return np.array([_soaked_once(path[0].tolist(), first, keep)])
    state = path[:, 0].copy() if first is None else np.full(len(path), first)
    start = state.copy()
    # Days in rows, so that each is worked on side by side.
    out: Floats = np.ascontiguousarray(path.T)
    out *= takes
    out[0] = start
    for day in range(1, len(out)):
        state *= keep
        state += out[day]
        out[day] = state
    out -= start
    return out.T


def _soaked_once(path: list[float], first: float | None, keep: float) -> list[float]:
    """Return one path low-passed: by plain floats, for an array of one costs a hundred times as much a day."""
    state = start = path[0] if first is None else first
    takes, out = 1 - keep, [0.0]
    for value in path[1:]:
        state = keep * state + takes * value
        out.append(state - start)
    return out
