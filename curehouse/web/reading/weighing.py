"""One weighing on a page of its own: what it is, where it stands, what is asked about it."""

from dataclasses import dataclass

from curehouse.curing.models import Reading, ReadingReview
from curehouse.curing.queries.weighing import ASKED, CORRECTED, STRUCK
from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.round import Question, question_about
from curehouse.web.reading.weights import figure, weight


@dataclass(frozen=True, slots=True)
class WeighingPage:
    """A weighing; ``newer`` is the one that stands in for it, ``struck`` why it counts no more."""

    reading: Reading
    name: str
    figure: str
    weight: str
    unit: str
    said: str
    question: Question | None
    newer: Reading | None
    newer_weight: str
    struck: str
    is_struck: bool


def read_weighing(reading: Reading, visit: Visit) -> WeighingPage:
    """Read what the page of a weighing shows (one query where it does not simply count)."""
    unit = visit.workshop.unit
    newer = reading.corrected_by if reading.standing == CORRECTED else None
    is_struck = reading.standing == STRUCK
    return WeighingPage(
        reading=reading,
        name=f"{reading.bar.batch}, bar {reading.bar.letter}",
        figure=figure(reading.weight_g, unit),
        weight=weight(reading.weight_g, unit),
        unit=unit,
        said=_said(reading, Calendar(visit.workshop, visit.at)),
        question=question_about(reading, unit) if reading.standing == ASKED else None,
        newer=newer,
        newer_weight=weight(newer.weight_g, unit) if newer else "",
        struck=_why_struck(reading, visit) if is_struck else "",
        is_struck=is_struck,
    )


def _said(reading: Reading, calendar: Calendar) -> str:
    """Return when, by whom and on which scale."""
    scale = f" on {reading.scale}" if reading.scale else ""
    return f"{calendar.moment(reading.moment)}, by {reading.signed_by}{scale}"


def _why_struck(reading: Reading, visit: Visit) -> str:
    reviews = ReadingReview.objects.within(visit.workshop).filter(reading=reading)
    return reviews.order_by("-pk").values_list("reason", flat=True)[0]
