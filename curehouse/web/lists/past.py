"""Past forecasts, batch by batch, beside what came."""

from collections.abc import Iterator
from decimal import Decimal
from statistics import fmean

from django.http import QueryDict

from curehouse.common.tables.writing import Value
from curehouse.common.units import from_grams
from curehouse.core.cure.past_told import Judged
from curehouse.curing.past_forecasts import Past, PastBatch, past_forecasts
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.past_forecasts import came_words, day_on, how_it_held
from curehouse.workshops.roles import Right

_PLACES = Decimal("0.0001")


def _forecasts(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    """What was told, then what was told again; one row a batch and number of weighings."""
    headers = (
        "Source", "Batch", "Cut", "Weighings", "Known up to", "Named from", "Middle named", "Named to", "Became ready",
        "Or", "Days named", "Middle less day, days", "Told likely too soft", "Was too soft", "Weighed late", "Bars",
        f"Middle less weight, {visit.workshop.unit}", "Bars held",
    )  # fmt: skip
    past = past_forecasts(visit.workshop)
    calendar = Calendar(visit.workshop, visit.at)
    sources = [("told here", past.told), *([("told again", past.replayed)] if past.replayed else [])]
    return TableOut(headers, (row for name, source in sources for row in _rows(name, source, visit, calendar)))


def _rows(name: str, past: Past, visit: Visit, calendar: Calendar) -> Iterator[list[Value]]:
    for one in past.batches:
        begin: list[Value] = [name, f"{one.batch}", calendar.day_of(one.batch.cut_at)]
        if not one.judged:
            yield [*begin, None, None, None, None, None, *_came(one, calendar), *[None] * 8]
        for told in one.judged.values():
            yield [*begin, *_told(one, told, calendar), *_came(one, calendar), *_held(one, told, visit, calendar)]


def _told(one: PastBatch, told: Judged, calendar: Calendar) -> list[Value]:
    ready = told.told.ready_day
    days = (told.told.known_day, ready.low, ready.middle, ready.high)
    return [told.told.weighings, *(day_on(one, day, calendar) for day in days)]


def _came(one: PastBatch, calendar: Calendar) -> list[Value]:
    day = one.came.ready_day
    return [None, came_words(one, calendar)] if day is None else [day_on(one, day, calendar), ""]


def _held(one: PastBatch, told: Judged, visit: Visit, calendar: Calendar) -> list[Value]:
    off_g = fmean(bar.off_g for bar in told.weights) if told.weights else None
    late = told.told.late_day if told.weights else None
    return [
        how_it_held(told),
        None if told.off_days is None else round(Decimal(told.off_days)),
        "yes" if told.told.is_likely_soft else "no",
        {True: "yes", False: "no", None: ""}[told.was_soft],
        None if late is None else day_on(one, late, calendar),
        len(told.weights) or None,
        None if off_g is None else from_grams(Decimal(str(off_g)), visit.workshop.unit).quantize(_PLACES),
        sum(bar.held for bar in told.weights) if told.weights else None,
    ]


LISTS = (ListOut("past_forecasts", "past-forecasts/batches", "Past forecasts", _forecasts, Right.SEE),)
