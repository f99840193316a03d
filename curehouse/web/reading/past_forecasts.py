"""The page of past forecasts: what they came to, in words, in figures, and batch by batch."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse

from curehouse.core.cure.came import WhyUnknown
from curehouse.core.cure.past_told import LEAST_BATCHES, MOST_WEIGHINGS, Judged, Promise, RangesHeld, Score
from curehouse.curing.past_forecasts import GOING_ON, TOLD_LATE, Past, PastBatch, past_forecasts
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.past_words import (
    PROMISE_WORDS,
    Words,
    days_words,
    error_words,
    soft_words,
    uncounted_words,
    weight_words,
)
from curehouse.web.reading.words import UNKNOWN, count
from curehouse.workshops.models import Workshop

# So many batches stand on the page; the list that is taken along has them all.
MOST_SHOWN = 40
NUMBERS = tuple(range(1, MOST_WEIGHINGS + 1))
_NOT_YET = {
    GOING_ON: "still cures",
    WhyUnknown.STILL_WET.value: "not while it was weighed",
    WhyUnknown.NOT_WEIGHED.value: "not weighed to its end",
    WhyUnknown.TOO_FAR_APART.value: "between weighings too far apart",
    TOLD_LATE: "before it was foretold",
}


@dataclass(frozen=True, slots=True)
class FigureRow:
    """A number of weighings in a table: how many tell, how many ranges held, the errors, and whether as promised."""

    after: str
    batches: int
    held: str
    error: str
    bias: str
    promise: str
    is_enough: bool


@dataclass(frozen=True, slots=True)
class SoftRow:
    """The same of warnings."""

    after: str
    batches: int
    told: str
    were: str


@dataclass(frozen=True, slots=True)
class BatchRow:
    """A batch: when it became ready, and by number of weighings what was told and whether it held."""

    name: str
    href: str
    came: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Everything of one source; rows are empty where no number of weighings has enough batches to tell."""

    slug: str
    days: Words
    weights: Words
    soft: str
    day_rows: tuple[FigureRow, ...]
    weight_rows: tuple[FigureRow, ...]
    soft_rows: tuple[SoftRow, ...]
    counted: str
    uncounted: str
    batches: tuple[BatchRow, ...]
    more: str


@dataclass(frozen=True, slots=True)
class PastPage:
    """What was told here, and what was told again of ended cures; None until a night has done so."""

    told: Section
    replayed: Section | None
    least: int


def read_past_forecasts(workshop: Workshop, calendar: Calendar) -> PastPage:
    """Read what the workshop's forecasts came to (five or six queries, however many there are)."""
    past = past_forecasts(workshop)
    replayed = None if past.replayed is None else _section("replayed", past.replayed, workshop, calendar)
    return PastPage(_section("told", past.told, workshop, calendar), replayed, LEAST_BATCHES)


def _section(slug: str, past: Past, workshop: Workshop, calendar: Calendar) -> Section:
    shown, unit = past.batches[:MOST_SHOWN], workshop.unit
    # Nothing is told again from the weighing of the cut alone.
    numbers = past.scores[1:] if slug == "replayed" else past.scores
    return Section(
        slug=slug,
        days=days_words(numbers),
        weights=weight_words(numbers, unit),
        soft=soft_words(numbers),
        day_rows=_if_any(tuple(_row(one, one.ready) for one in numbers)),
        weight_rows=_if_any(tuple(_row(one, one.weight, unit) for one in numbers)),
        soft_rows=tuple(_soft_row(one) for one in numbers if any(each.soft.batches >= LEAST_BATCHES for each in numbers)),
        counted=f"{count(past.counted, 'batch', 'batches')} counted.",
        uncounted=uncounted_words(past.uncounted),
        batches=tuple(_batch(one, calendar) for one in shown),
        more="" if len(shown) == len(past.batches) else f"The newest {len(shown)} of {len(past.batches)}; the list has all.",
    )


def _if_any(rows: tuple[FigureRow, ...]) -> tuple[FigureRow, ...]:
    return rows if any(row.is_enough for row in rows) else ()


def number_words(weighings: int) -> str:
    """Return ``1 weighing``, ``2 weighings``, the most as ``5 weighings or more``."""
    words = count(weighings, "weighing")
    return f"{words} or more" if weighings == MOST_WEIGHINGS else words


def _row(one: Score, held: RangesHeld, unit: str = "") -> FigureRow:
    is_enough = held.promise is not Promise.TOO_FEW
    error, bias = error_words(held, unit)
    return FigureRow(
        after=number_words(one.weighings),
        batches=held.batches,
        held=f"{held.held} of {held.ranges}" if is_enough else UNKNOWN,
        error=error,
        bias=bias,
        promise=PROMISE_WORDS[held.promise],
        is_enough=is_enough,
    )


def _soft_row(one: Score) -> SoftRow:
    soft, is_enough = one.soft, one.soft.batches >= LEAST_BATCHES
    told = f"{soft.told_and_were} of {soft.told}" if is_enough and soft.told else "none told" if is_enough else UNKNOWN
    were = f"{soft.were_and_told} of {soft.were}" if is_enough and soft.were else "none was" if is_enough else UNKNOWN
    return SoftRow(number_words(one.weighings), soft.batches, told, were)


def day_on(one: PastBatch, day: float, calendar: Calendar) -> date:
    """Return the date of a day since the cut."""
    return calendar.day_of(one.batch.cut_at) + timedelta(days=round(day))


def came_words(one: PastBatch, calendar: Calendar) -> str:
    """Return when a batch became ready, or why nobody can say."""
    if one.came.ready_day is None:
        return _NOT_YET[one.why_not]
    on = day_on(one, one.came.ready_day, calendar)
    return f"{_short(on)} {on.year}, day\u00a0{one.came.ready_day}"


def _batch(one: PastBatch, calendar: Calendar) -> BatchRow:
    cells = tuple((number_words(number), _cell(one, one.judged.get(number), calendar)) for number in NUMBERS)
    return BatchRow(f"{one.batch}", reverse("web:batch", args=[one.batch.pk]), came_words(one, calendar), cells)


def _cell(one: PastBatch, told: Judged | None, calendar: Calendar) -> str:
    if told is None:
        return UNKNOWN
    first, last = (day_on(one, day, calendar) for day in (told.told.ready_day.low, told.told.ready_day.high))
    days = _short(first) if first == last else f"{_short(first)} – {_short(last)}"
    how = how_it_held(told)
    return f"{days}: {how}" if how else days


def how_it_held(told: Judged) -> str:
    """Return whether days named held, and else by how many they were missed; nothing where that is not known."""
    if told.held is None:
        return ""
    if told.held:
        return "held"
    ready = told.came.ready_day
    if ready is None:
        return "was later"
    low, high = round(told.told.ready_day.low), round(told.told.ready_day.high)
    return f"{count(low - ready, 'day')} sooner" if ready < low else f"{count(ready - high, 'day')} later"


def _short(day: date) -> str:
    return f"{day.day}\u00a0{day:%b}"
