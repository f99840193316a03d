"""A batch's weighings as a record: round by round, with what was asked about and what was changed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from curehouse.curing.adapter import day_of, limits_of
from curehouse.curing.models import Reading, ReadingReview, SampleBar
from curehouse.curing.queries.weighing import ASKED, CORRECTED, COUNTS, STRUCK
from curehouse.making.models import Batch
from curehouse.web.drawing.curve import CurveDrawing, DayMark, SampleCurve, Weighing
from curehouse.web.once import new_key
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.forecast import Outlook
from curehouse.web.reading.weights import figure, question, step, weight
from curehouse.workshops.models import Workshop

# A doubt's name on the curve, where there is room for a word or two.
_SHORT_DOUBT = {
    "swapped_digits": "digits?",
    "decimal_slip": "point?",
    "tare": "tare?",
    "repeated": "last weight?",
    "too_heavy": "too heavy?",
    "too_light": "too light?",
}


@dataclass(frozen=True, slots=True)
class Weight:
    """One weight in the record."""

    reading_id: int
    figure: str
    standing: str

    @property
    def counts(self) -> bool:
        """Return whether the verdict is made with it."""
        return self.standing == COUNTS


@dataclass(frozen=True, slots=True)
class Session:
    """The weighings of one day on one scale; ``by_letter`` holds each bar's, in the order of the letters."""

    day: str
    age: str
    by_letter: tuple[tuple[str, tuple[Weight, ...]], ...]
    scale: str
    firmness: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A weight that the verdict goes without until a person has said what it is.

    ``client_id`` is for the weighing that would stand in for it.
    """

    reading_id: int
    letter: str
    day: str
    weight: str
    question: str
    guess: str
    client_id: str


@dataclass(frozen=True, slots=True)
class Change:
    """What a person said of a weight afterwards."""

    day: str
    letter: str
    was: str
    became: str


@dataclass(frozen=True, slots=True)
class Record:
    """The weighings of a batch."""

    letters: tuple[str, ...]
    sessions: tuple[Session, ...]
    asked: tuple[Asked, ...]
    changes: tuple[Change, ...]

    @property
    def has_firmness(self) -> bool:
        """Return whether a firmness was noted at any weighing."""
        return any(session.firmness for session in self.sessions)


def fetch_readings(batch: Batch, bars: Sequence[SampleBar]) -> list[Reading]:
    """Return the weighings of *bars* with their standing, scale and signature (one query)."""
    rows = Reading.objects.within(batch.workshop).of_bars(bars).with_standing()
    return list(rows.select_related("scale", "by_user", "by_device"))


def fetch_reviews(batch: Batch) -> dict[int, ReadingReview]:
    """Return the newest review of each weighing of *batch* that has one (one query)."""
    rows = ReadingReview.objects.within(batch.workshop).filter(reading__bar__batch=batch)
    return {row.reading_id: row for row in rows.select_related("by_user", "by_device").order_by("id")}


def record_of(
    batch: Batch,
    bars: Sequence[SampleBar],
    readings: Sequence[Reading],
    reviews: dict[int, ReadingReview],
    *,
    workshop: Workshop,
    calendar: Calendar,
) -> Record:
    """Return the record of a batch that is cut: rounds newest first, open questions and changes oldest first."""
    letters = {bar.pk: bar.letter for bar in bars}
    by_time = sorted(readings, key=lambda row: (row.moment, row.pk))
    return Record(
        letters=tuple(letters.values()),
        sessions=tuple(_sessions(by_time, letters, workshop.unit, calendar, batch.cut_at)),
        asked=tuple(_asked(row, letters, workshop.unit, calendar) for row in by_time if row.standing == ASKED),
        changes=tuple(_changes(by_time, letters, reviews, workshop.unit, calendar)),
    )


def _sessions(
    by_time: Sequence[Reading], letters: dict[int, str], unit: str, calendar: Calendar, cut_at: datetime
) -> Iterable[Session]:
    def round_of(row: Reading) -> tuple[date, int]:
        return calendar.day_of(row.moment), row.scale_id or 0

    for (day, _scale), group in groupby(sorted(by_time, key=round_of, reverse=True), key=round_of):
        rows = sorted(group, key=lambda row: (row.moment, row.pk))
        yield Session(
            day=calendar.day(rows[0].moment),
            age=f"day {(day - calendar.day_of(cut_at)).days}",
            by_letter=tuple(
                (
                    letter,
                    tuple(Weight(row.pk, figure(row.weight_g, unit), row.standing) for row in rows if row.bar_id == bar_id),
                )
                for bar_id, letter in letters.items()
            ),
            scale=_scale_words(rows[0], unit),
            firmness=_firmness(rows, letters),
        )


def _weight(row: Reading, unit: str) -> Weight:
    return Weight(row.pk, figure(row.weight_g, unit), row.standing)


def _scale_words(row: Reading, unit: str) -> str:
    return f"{row.scale}, {step(row.scale, unit)}" if row.scale else "not named"


def _firmness(rows: Sequence[Reading], letters: dict[int, str]) -> str:
    noted = [row for row in rows if (row.firmness or row.dent_mm is not None) and row.standing in (COUNTS, ASKED)]
    return " · ".join(f"{letters[row.bar_id]} {_firmness_of(row)}" for row in noted)


def _firmness_of(row: Reading) -> str:
    dent = "" if row.dent_mm is None else f"{row.dent_mm.normalize():f} mm by {row.dent_tool}"
    return ", ".join(part for part in (row.get_firmness_display(), dent) if part)


def _asked(row: Reading, letters: dict[int, str], unit: str, calendar: Calendar) -> Asked:
    return Asked(
        reading_id=row.pk,
        letter=letters[row.bar_id],
        day=calendar.day(row.moment),
        weight=weight(row.weight_g, unit),
        question=question(row.doubt_detail, unit),
        guess=weight(row.doubt_guess_g, unit) if row.doubt_guess_g else "",
        client_id=new_key(),
    )


def _changes(
    by_time: Sequence[Reading],
    letters: dict[int, str],
    reviews: dict[int, ReadingReview],
    unit: str,
    calendar: Calendar,
) -> Iterable[Change]:
    correction = {row.corrects_id: row for row in by_time if row.corrects_id}
    for row in by_time:
        review, newer = reviews.get(row.pk), correction.get(row.pk)
        if newer is not None and row.standing == CORRECTED:
            became = f"corrected to {weight(newer.weight_g, unit)} by {newer.signed_by}, {calendar.day(newer.received_at)}"
        elif review is not None:
            became = _review_words(review, row.standing, calendar)
        else:
            continue
        yield Change(calendar.day(row.moment), letters[row.bar_id], weight(row.weight_g, unit), became)


def _review_words(review: ReadingReview, standing: str, calendar: Calendar) -> str:
    by = f"by {review.signed_by}, {calendar.day(review.at)}"
    return f"struck out {by}: {review.reason}" if standing == STRUCK else f"kept as it is {by}"


def curve_of(
    batch: Batch, bars: Sequence[SampleBar], readings: Sequence[Reading], workshop: Workshop, outlook: Outlook | None = None
) -> CurveDrawing:
    """Return the batch's curve: what counts, what is in doubt crossed and named, and what is foretold."""
    seen = [row for row in readings if row.standing in (COUNTS, ASKED)]
    limits = limits_of(batch, workshop)
    return CurveDrawing(
        batch=str(batch),
        bars=tuple(
            SampleCurve(
                bar.letter,
                tuple(_point(batch, row) for row in seen if row.bar_id == bar.pk),
            )
            for bar in bars
        ),
        day_marks=(DayMark(limits.min_days, "minimum age"), DayMark(limits.latest_day, "latest day")),
        forecast=outlook.points if outlook else (),
        ready_window=outlook.ready_window if outlook else None,
        unit=workshop.unit,
    )


def _point(batch: Batch, row: Reading) -> Weighing:
    return Weighing(day_of(batch, row.moment), float(row.weight_g), doubt=_doubt(row) if row.standing == ASKED else "")


def _doubt(row: Reading) -> str:
    neighbour = row.doubt_detail.get("neighbour")
    return f"bar {neighbour}?" if neighbour else _SHORT_DOUBT.get(row.doubt, "in doubt")
