"""The pages of the round: a bar on the scale, and the walk's end."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils.safestring import SafeString

from curehouse.curing.doubts import expected_for, range_that_asked
from curehouse.curing.models import Cure, Reading, SampleBar
from curehouse.curing.queries.weighing import ASKED
from curehouse.curing.rounds import OnTheScale, Stop, day_at, next_round, on_the_scale, weighings_of_day
from curehouse.web.access import Visit
from curehouse.web.drawing.bars import BarRow, draw_bar_row
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.days import Calendar, day_words
from curehouse.web.reading.session_off import said_so_far, sessions_said
from curehouse.web.reading.weights import apart, between, figure, question, weight
from curehouse.web.reading.words import count
from curehouse.web.walking import Path
from curehouse.workshops.models import Scale

# Common practice: fresh bars may still be caustic, most of all on the outside.
YOUNG = timedelta(days=28)


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked about a weight, and the weights its answers name; ``typed`` is without the unit."""

    reading: Reading
    apart: str
    ask: str
    fits: str
    take: str
    keep: str
    typed: str


@dataclass(frozen=True, slots=True)
class Written:
    """A weighing on record, and where it is changed."""

    name: str
    figure: str
    weight: str
    at: str
    by: str
    url: str


@dataclass(frozen=True, slots=True)
class BarPage:
    """A bar on the scale. ``seen`` is the newest weighing of today the page knows of."""

    bar: SampleBar
    batch: str
    number: int | None
    of: int
    place: str
    drawing: SafeString
    known: str
    unit: str
    seen: int | None
    question: Question | None
    today: Written | None
    older_questions: tuple[Written, ...]
    wants_gloves: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A line at the walk's end."""

    name: str
    url: str
    note: str
    mark: Mark | None = None


@dataclass(frozen=True, slots=True)
class RoundEnd:
    """What a round did; ``pending`` while verdicts are being made, ``session`` where it is off as a whole."""

    weighed: str
    session: str
    asked: tuple[Row, ...]
    left: tuple[Row, ...]
    bars_left: int
    batches: tuple[Row, ...]
    pending: bool
    next_round: str


def question_about(reading: Reading, unit: str) -> Question:
    """Return the question a doubtful weighing raised, in the workshop's unit."""
    difference_g = reading.doubt_detail["difference_g"]
    far = apart(difference_g, unit, like=reading.weight_g)
    guess = "" if reading.doubt_guess_g is None else weight(reading.doubt_guess_g, unit)
    return Question(
        reading=reading,
        apart=f"{far} {'lighter' if difference_g < 0 else 'heavier'} than expected.",
        ask=question(reading.doubt_detail, unit),
        fits=guess and f"{guess} would fit.",
        take=guess,
        keep=weight(reading.weight_g, unit),
        typed=figure(reading.weight_g, unit),
    )


def _question_on_round(reading: Reading, visit: Visit) -> Question:
    """Return the question with what it has in common with the bars weighed before, unless it names what stood there."""
    unit = visit.workshop.unit
    asked = question_about(reading, unit)
    if reading.doubt_detail.get("tare"):
        return asked
    so_far = said_so_far(reading, weighings_of_day(visit.workshop, at=visit.at), unit)
    return replace(asked, ask=so_far) if so_far else asked


def written(reading: Reading, path: Path, *, unit: str, calendar: Calendar) -> Written:
    """Return a weighing with the page that changes it and leads back into the walk."""
    return Written(
        name=reading.bar.letter,
        figure=figure(reading.weight_g, unit),
        weight=weight(reading.weight_g, unit),
        at=_at(reading.moment, calendar),
        by=reading.signed_by,
        url=path.reading("reading_correct", reading),
    )


def _at(moment: datetime, calendar: Calendar) -> str:
    """Return the clock time of a moment, with its day unless that is today."""
    if calendar.days_since(moment) == 0:
        return f"{moment.astimezone(ZoneInfo(calendar.zone)):%H:%M}"
    return calendar.moment(moment)


def read_bar(bar: SampleBar, path: Path, visit: Visit, scale: Scale | None, *, after: Reading | None = None) -> BarPage:
    """Read what the page of a bar, come to *after* a weighing, shows (two queries beside the walk's)."""
    unit, calendar = visit.workshop.unit, Calendar(visit.workshop, visit.at)
    record = on_the_scale(bar, workshop=visit.workshop, at=visit.at)
    asked = record.today is not None and record.today.standing == ASKED
    stop = path.walk.stop_at(bar)
    return BarPage(
        bar=bar,
        batch=str(bar.batch),
        number=path.walk.number_of(bar),
        of=len(path.walk.stops),
        place=_place(stop) if stop else "",
        drawing=_drawing(bar, record),
        known=_known(record, visit, scale, calendar, asked=record.today if asked else None),
        unit=unit,
        seen=record.today.pk if record.today else None,
        question=_question_on_round(record.today, visit) if asked and record.today is not None else None,
        today=written(record.today, path, unit=unit, calendar=calendar) if record.today and not asked else None,
        older_questions=tuple(written(row, path, unit=unit, calendar=calendar) for row in record.still_asked),
        wants_gloves=record.today is None and _wants_gloves(bar, visit.at, after=after),
    )


def _wants_gloves(bar: SampleBar, at: datetime, *, after: Reading | None) -> bool:
    """Return whether gloves are put on here: at a young batch's first bar, and wherever else one comes in."""
    is_young = at - (bar.batch.cut_at or bar.batch.poured_at) < YOUNG
    return is_young and (after is None or after.bar.batch_id != bar.batch_id)


def _place(stop: Stop) -> str:
    return str(stop.position) if stop.position else "without a place"


def _drawing(bar: SampleBar, record: OnTheScale) -> SafeString:
    cure = bar.batch.cure
    share = cure.assessment.water_left_pct if cure.assessment else None
    return draw_bar_row(
        BarRow(
            batch=str(bar.batch),
            bars=bar.batch.bars_left,
            letters=record.letters,
            current=bar.letter,
            water_left=None if share is None else min(max(share / 100, 0.0), 1.0),
            weighed=record.weighed_letters,
        )
    )


def _known(record: OnTheScale, visit: Visit, scale: Scale | None, calendar: Calendar, *, asked: Reading | None) -> str:
    """Return what to expect: ``last week 121.6 g · expected 119.2–120.4 g``.

    Beside a question (*asked*) it is what asked it, whatever has been foretold since.
    """
    if record.last is not None and record.last == record.today:
        return ""
    unit = visit.workshop.unit
    said = (
        f"{_when(record.last.moment, calendar)} {weight(record.last.weight_g, unit)}" if record.last else "its first weighing"
    )
    expected = _expected(record, visit, scale) if asked is None else range_that_asked(asked)
    return said if expected is None else f"{said} · expected {between(*expected, unit, scale)}"


def _expected(record: OnTheScale, visit: Visit, scale: Scale | None) -> tuple[float, float] | None:
    found = expected_for(record.around, moment=visit.at, scale=scale) if record.last else None
    return None if found is None else (found.low_g, found.high_g)


def _when(moment: datetime, calendar: Calendar) -> str:
    days = calendar.days_since(moment)
    if 5 <= days <= 9:
        return "last week"
    return calendar.ago(moment) if days < 2 else f"on {calendar.day(moment)}"


def read_end(path: Path, visit: Visit) -> RoundEnd:
    """Read what the walk did today (six queries beside the walk's)."""
    calendar = Calendar(visit.workshop, visit.at)
    weighed = weighings_of_day(visit.workshop, at=visit.at, batch=path.walk.batch)
    batches = {row.bar.batch_id for row in weighed}
    cures = list(Cure.objects.within(visit.workshop).going_on().filter(batch__in=batches))
    return RoundEnd(
        weighed=count(len({row.bar_id for row in weighed}), "bar"),
        session=" ".join(sessions_said(weighed, visit.workshop.unit).values()),
        asked=tuple(_asked_row(row, path, visit.workshop.unit) for row in weighed if row.standing == ASKED),
        left=tuple(_left_rows(path)),
        bars_left=len(path.walk.left),
        batches=tuple(_cure_rows(cures, calendar, since=day_at(visit.workshop, visit.at).begins)),
        pending=any(cure.assess_wanted_at is not None for cure in cures),
        next_round=next_round_words(visit, calendar),
    )


def _asked_row(reading: Reading, path: Path, unit: str) -> Row:
    asked = question_about(reading, unit)
    return Row(
        name=f"{reading.bar.batch}, bar {reading.bar.letter}: {weight(reading.weight_g, unit)}",
        url=path.reading("reading_correct", reading),
        note=" ".join(filter(None, [asked.apart, asked.ask, asked.fits])),
    )


def _left_rows(path: Path) -> Iterable[Row]:
    """Return the bars left out, a row for each batch."""
    for _batch, stops in groupby(path.walk.left, key=lambda stop: stop.batch.pk):
        first, *others = stops
        letters = ", ".join(stop.bar.letter for stop in (first, *others))
        yield Row(name=f"{first.batch}, {'bars' if others else 'bar'} {letters}", url=path.bar(first.bar), note=_place(first))


def _cure_rows(cures: Iterable[Cure], calendar: Calendar, *, since: datetime) -> Iterable[Row]:
    for cure in cures:
        changed = cure.episode > 0 and cure.state_since >= since
        due = day_words(cure.due_on, today=calendar.today) if cure.due_on else ""
        notes = ["new today" if changed else "", "verdict to follow" if cure.assess_wanted_at else ""]
        notes.append(f"to be weighed {due}" if due else "")
        yield Row(
            name=str(cure.batch),
            url=reverse("web:batch", args=[cure.batch_id]),
            note=", ".join(filter(None, notes)),
            mark=mark_of(cure.shown_as),
        )


def next_round_words(visit: Visit, calendar: Calendar) -> str:
    """Return when the next round is: ``Tue 17 Mar, 3 batches``; empty where nothing will be due."""
    coming = next_round(visit.workshop, after=calendar.today)
    if coming is None:
        return ""
    day, batches = coming
    return f"{day_words(day, today=calendar.today)}, {count(batches, 'batch', 'batches')}"
