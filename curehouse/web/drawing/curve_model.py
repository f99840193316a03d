"""What a curve holds, and the line through it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

Unit = Literal["g", "oz"]
Line = tuple[tuple[float, float], ...]

GRAMS_PER_OUNCE = 28.349523125  # avoirdupois ounce, exact by definition (NIST Handbook 44, app. C)

# Weighings of one walk past the racks lie minutes apart; half a day never joins two walks.
_ROUND_GAP_DAYS = 0.5


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weight of one bar; `day` counts from the cut, a `doubt` leaves it out of the line."""

    day: float
    weight_g: float
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class SampleCurve:
    """The weighings of one sample bar."""

    letter: str
    weighings: tuple[Weighing, ...]

    @property
    def known(self) -> tuple[Weighing, ...]:
        """The weighings that count, in order of their days."""
        return tuple(sorted((w for w in self.weighings if not w.doubt), key=lambda w: w.day))


@dataclass(frozen=True, slots=True)
class DayMark:
    """A day worth a line of its own: the minimum age, the latest day, a passed check."""

    day: float
    label: str


@dataclass(frozen=True, slots=True)
class ForecastPoint:
    """What is expected on a day, with the band around it."""

    day: float
    low_g: float
    mid_g: float
    high_g: float


@dataclass(frozen=True, slots=True)
class ReadyWindow:
    """The days between which the batch is expected to be ready."""

    first_day: float
    last_day: float
    label: str


@dataclass(frozen=True, slots=True)
class CurveDrawing:
    """A batch's cure as it is to be drawn; `key` makes ids unique on a page."""

    batch: str
    bars: tuple[SampleCurve, ...]
    day_marks: tuple[DayMark, ...] = ()
    forecast: tuple[ForecastPoint, ...] = ()
    ready_window: ReadyWindow | None = None
    unit: Unit = "g"
    key: str = "curve"


@dataclass(frozen=True, slots=True)
class Stop:
    """The weighings of one round: (letter, weighing) pairs that lie close together."""

    day: float
    weighings: tuple[tuple[str, Weighing], ...]


def stops(bars: tuple[SampleCurve, ...]) -> tuple[Stop, ...]:
    """Return the rounds of *bars* in order of their days; a round spans at most half a day."""
    every = sorted(
        ((bar.letter, weighing) for bar in bars for weighing in bar.weighings),
        key=lambda pair: (pair[1].day, pair[0]),
    )
    rounds: list[list[tuple[str, Weighing]]] = []
    for pair in every:
        if rounds and pair[1].day - rounds[-1][0][1].day <= _ROUND_GAP_DAYS:
            rounds[-1].append(pair)
        else:
            rounds.append([pair])
    return tuple(Stop(sum(weighing.day for _, weighing in pairs) / len(pairs), tuple(pairs)) for pairs in rounds)


def points_ahead(curve: CurveDrawing) -> tuple[ForecastPoint, ...]:
    """Return what is expected on days after the newest weighing: that day itself is said as it was weighed."""
    last = max((weighing.day for bar in curve.bars for weighing in bar.weighings), default=-math.inf)
    return tuple(point for point in curve.forecast if point.day > last + _ROUND_GAP_DAYS)


def mean_lines(bars: tuple[SampleCurve, ...]) -> tuple[Line, ...]:
    """Return the mean weight of *bars* over the days, as lines of (day, grams).

    From one round to the next the line moves by the mean change of the bars known at both, so a
    bar that joins, is missed or is sold makes no step. A new line starts where no bar spans two
    rounds.
    """
    days = [stop.day for stop in stops(bars) if any(not weighing.doubt for _, weighing in stop.weighings)]
    levels = [dict(_levels_on(day, bars)) for day in days]
    lines: list[list[tuple[float, float]]] = []
    for number, (day, here) in enumerate(zip(days, levels, strict=True)):
        common = here.keys() & levels[number - 1].keys() if number else set()
        if common:
            before = levels[number - 1]
            change = sum(here[letter] - before[letter] for letter in common) / len(common)
            lines[-1].append((day, lines[-1][-1][1] + change))
        else:
            lines.append([(day, sum(here.values()) / len(here))])
    return tuple(tuple(line) for line in lines)


def _levels_on(day: float, bars: tuple[SampleCurve, ...]) -> Iterator[tuple[str, float]]:
    for bar in bars:
        level = _weight_on(day, bar.known)
        if level is not None:
            yield bar.letter, level


def _weight_on(day: float, known: tuple[Weighing, ...]) -> float | None:
    """Return a bar's weight on *day*, read from the line between its weighings."""
    near = [w.weight_g for w in known if abs(w.day - day) <= _ROUND_GAP_DAYS]
    if near:
        return sum(near) / len(near)
    for before, after in pairwise(known):
        if before.day < day < after.day:
            share = (day - before.day) / (after.day - before.day)
            return before.weight_g + share * (after.weight_g - before.weight_g)
    return None
