"""Batches of a formula laid over each other: their weights left since the pour, beside what is expected of them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from math import ceil
from statistics import fmean, median

from django.urls import reverse

from curehouse.common.time import local_day
from curehouse.core.cure.formula_curve import ExpectedPoint, expected_curve
from curehouse.core.cure.series import LATEST_START_DAY
from curehouse.curing.adapter import day_of
from curehouse.curing.circumstances import prior_now
from curehouse.curing.models import CurePrior, Reading
from curehouse.curing.queries.weighing import COUNTS
from curehouse.making.models import Batch, Formula
from curehouse.web.drawing.overlay import MOST_LINES, Overlay, OverlayLine, against, expected_on
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import UNKNOWN, taught_words
from curehouse.workshops.models import Workshop

# So many batches are read; a house that pours one a week has a year's in sight.
MOST_BATCHES = 60
# Days since the pour of which the table tells.
TABLE_DAYS = (7, 14, 21, 28, 42, 56)
# Between weighings that lie further apart nothing is told.
LONGEST_GAP_DAYS = 16
_CURVE_STEP_DAYS = 2
_LEAST_REACH_DAYS = 56
_USUAL_LAG_DAYS = 1.0
_DAY_SECONDS = 86_400.0

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class CureLine:
    """A batch in the table: its weight left on the days told, and how it stands; ``is_drawn`` if its line is."""

    name: str
    href: str
    note: str
    left: tuple[tuple[int, str], ...]
    stands: str
    is_drawn: bool


@dataclass(frozen=True, slots=True)
class FormulaCures:
    """Everything on the page; ``expected`` are the figures of the table's days, empty where nothing was learnt."""

    overlay: Overlay | None
    days: tuple[int, ...]
    expected: tuple[tuple[int, str], ...]
    lines: tuple[CureLine, ...]
    rests_on: str
    not_drawn: str


def read_formula_cures(formula: Formula, workshop: Workshop, calendar: Calendar) -> FormulaCures:
    """Read a formula's newest batches and what they weigh (four queries, however many there are)."""
    found = Batch.objects.within(workshop).filter(formula=formula, cut_at__isnull=False).select_related("formula")
    batches = list(found.newest_first()[:MOST_BATCHES])
    points = _points_of(batches, workshop)
    drawn = [batch for batch in batches if len(points[batch.pk]) > 1][:MOST_LINES]
    prior = prior_now(workshop)
    lines = {batch.pk: OverlayLine(str(batch), batch.known_as or f"{batch.number}", points[batch.pk]) for batch in batches}
    expected = _expected(prior, formula, drawn, lines) if drawn else ()
    return FormulaCures(
        overlay=Overlay(formula.name, tuple(lines[batch.pk] for batch in drawn), expected) if drawn else None,
        days=TABLE_DAYS,
        expected=tuple((day, _told(expected_on(expected, day))) for day in TABLE_DAYS) if expected else (),
        lines=tuple(_line(batch, lines[batch.pk], expected, calendar, is_drawn=batch in drawn) for batch in batches),
        rests_on=_rests_on(prior),
        not_drawn=_not_drawn(batches, drawn),
    )


def _told(point: ExpectedPoint | None) -> str:
    return UNKNOWN if point is None else f"{point.middle_pct:.1f}"


def _points_of(batches: Sequence[Batch], workshop: Workshop) -> Mapping[int, Points]:
    """Return each batch's weight left in % by days since the pour: the mean of its bars that were weighed at the cut."""
    wanted = {batch.pk: batch for batch in batches}
    rows = Reading.objects.within(workshop).of_batches(wanted).with_standing().filter(standing=COUNTS)
    bars: dict[int, dict[str, list[tuple[datetime, float]]]] = defaultdict(lambda: defaultdict(list))
    for key, letter, moment, weight_g in rows.values_list("bar__batch_id", "bar__letter", "moment", "weight_g"):
        bars[key][letter].append((moment, float(weight_g)))
    return {key: _left_of(batch, bars[key], workshop.time_zone) for key, batch in wanted.items()}


def _left_of(batch: Batch, bars: Mapping[str, Sequence[tuple[datetime, float]]], time_zone: str) -> Points:
    sessions: dict[date, list[tuple[float, float]]] = defaultdict(list)
    for weighed in bars.values():
        first_at, first_g = weighed[0]
        if day_of(batch, first_at) > LATEST_START_DAY:
            continue
        for moment, weight_g in weighed:
            since = (moment - batch.poured_at).total_seconds() / _DAY_SECONDS
            sessions[local_day(moment, time_zone)].append((max(since, 0.0), 100 * weight_g / first_g))
    return tuple(
        (fmean(day for day, _ in session), fmean(left for _, left in session)) for _, session in sorted(sessions.items())
    )


def _expected(
    prior: CurePrior | None, formula: Formula, drawn: Sequence[Batch], lines: Mapping[int, OverlayLine]
) -> tuple[ExpectedPoint, ...]:
    """Return what is expected since the pour, from the cut on, for bars as wet as these batches' were."""
    water = median(batch.water_share for batch in drawn)
    if prior is None or not 0 < water < 1:
        return ()
    lags = [(batch.cut_at - batch.poured_at).total_seconds() / _DAY_SECONDS for batch in drawn if batch.pour_known]
    lag = median(lags) if lags else _USUAL_LAG_DAYS
    reach = max([float(_LEAST_REACH_DAYS), *(lines[batch.pk].last[0] for batch in drawn)])
    days = [float(day) for day in range(0, ceil(reach - lag) + _CURVE_STEP_DAYS, _CURVE_STEP_DAYS)]
    found = expected_curve(prior.prior, formula.name, water_share=water, days=days)
    return tuple(ExpectedPoint(one.day + lag, one.low_pct, one.middle_pct, one.high_pct) for one in found)


def _line(
    batch: Batch, line: OverlayLine, expected: Sequence[ExpectedPoint], calendar: Calendar, *, is_drawn: bool
) -> CureLine:
    cut = f"cut {calendar.day(batch.cut_at)}, and counted from then"
    poured = f"poured {calendar.day(batch.poured_at)}" if batch.pour_known else cut
    return CureLine(
        name=line.name,
        href=reverse("web:batch", args=[batch.pk]),
        note=poured,
        left=tuple((day, _left_on(line.points, day)) for day in TABLE_DAYS),
        stands=against(line, expected) if line.points else "not weighed at the cut",
        is_drawn=is_drawn,
    )


def _left_on(points: Points, day: float) -> str:
    """Return the weight left on a day, read between two weighings that lie no more than two weeks apart."""
    for (before, left), (after, later) in zip(points, points[1:], strict=False):
        if before <= day <= after and after - before <= LONGEST_GAP_DAYS:
            return f"{left + (later - left) * (day - before) / (after - before):.1f}"
    return UNKNOWN


def _rests_on(prior: CurePrior | None) -> str:
    if prior is None:
        return "What is expected of such batches comes once a night has learnt from the workshop’s own."
    source = f"Expected from {taught_words(prior.cures)} (version {prior.version}), for bars as wet as these"
    return f"{source}; 8 of 10 batches lie in the shaded band."


def _not_drawn(batches: Sequence[Batch], drawn: Sequence[Batch]) -> str:
    if len(drawn) < MOST_LINES or len(batches) <= len(drawn):
        return ""
    return f"The newest {len(drawn)} are drawn; the table has {len(batches)}."
