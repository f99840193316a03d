"""What will be here of a material, for its page: sentences, the drawing, what comes and goes, the figures day by day."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from curehouse.common.time import day_words
from curehouse.common.units import GRAMS_PER
from curehouse.flows.drafts_ahead import Draft
from curehouse.flows.stock_ahead import (
    LEAST_DAYS,
    Ahead,
    ArrivalEvent,
    DayFigures,
    Event,
    ExpiryEvent,
    RunEvent,
    stock_ahead,
)
from curehouse.making.models import Run
from curehouse.web.access import Visit
from curehouse.web.drawing.stock import StockDay, StockDrawing, StockFlag, StockMark, stock_figure
from curehouse.web.lists.table import amount as amount_in
from curehouse.web.lists.table import measured_in
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.ahead_words import Words, accounts, asides, verdict
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count
from inventory.models import Material

MOST_EVENTS = 30
# What the figures of a day are called in tables and lists.
HEADS = ("Likely", "At least", "At most", "As planned", "Comes", "Expires", "Into runs", "Used besides", "Lacks", "If sent")
# The first of them are said on each day, the others where something moved.
_LEVELS = 4
_LARGER = {"g": ("kg", 1000), "oz": ("lb", 10 * GRAMS_PER["lb"])}


@dataclass(frozen=True, slots=True)
class EventLine:
    """Something that comes or goes: what, by how much, when, and how a run stands."""

    name: str
    href: str
    note: str
    amount: str
    mark: Mark | None


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day as a row of the table, its cells written here: a template takes three times as long for so many."""

    day: str
    cells: SafeString


@dataclass(frozen=True, slots=True)
class AheadView:
    """All that a material's page says of the days to come."""

    verdict: str
    accounts: list[str]
    asides: list[str]
    figure: SafeString | None
    events: list[EventLine]
    more_events: int
    drafts: list[EventLine]
    waits: bool
    heads: tuple[str, ...]
    days: list[DayLine]
    unit: str


def read_ahead(visit: Visit, material: Material) -> AheadView:
    """Read it (a constant number of queries)."""
    ahead = stock_ahead(material=material, at=visit.at)
    words = Words(ahead)
    lines = [_event(one, words) for one in ahead.events]
    shown = () if ahead.is_empty else days_shown(ahead)
    return AheadView(
        verdict=verdict(ahead, words),
        accounts=list(accounts(ahead, words)),
        asides=list(asides(ahead, words)),
        figure=None if ahead.is_empty else stock_figure(_drawing(ahead, words)),
        events=lines[:MOST_EVENTS],
        more_events=max(len(lines) - MOST_EVENTS, 0),
        drafts=[_draft(one, words) for one in ahead.drafts],
        waits=bool(ahead.waiting),
        heads=HEADS,
        days=[_day(one, visit, material) for one in shown],
        unit=measured_in(material, visit),
    )


def _day(one: DayFigures, visit: Visit, material: Material) -> DayLine:
    cells = format_html_join(
        "",
        '<td class="num{}" data-head="{}">{}</td>',
        (
            # On a phone what did not move is left out.
            ("" if place < _LEVELS or figure else " nothing", head.lower(), figure_words(figure, visit, material))
            for place, (head, figure) in enumerate(zip(HEADS, figures_of(one), strict=True))
        ),
    )
    return DayLine(day_words(one.day, today=Calendar(visit.workshop, visit.at).today), cells)


def figures_of(one: DayFigures) -> tuple[float, ...]:
    """Return a day's figures in the order of tables and lists."""
    return (
        one.left, one.low, one.high, one.planned_left, one.came, one.expired, one.into_runs, one.unplanned, one.lacking,
        one.if_sent,
    )  # fmt: skip


def figure_words(figure: float, visit: Visit, material: Material) -> str:
    """Return a figure of the table in the workshop's unit, as lists have it."""
    return f"{amount_in(Decimal(str(figure)), material, visit):f}" if figure else "0"


def days_shown(ahead: Ahead) -> list[DayFigures]:
    """Return the days of the table and the cursor: all of the first ninety, then those on which something is, and weeks."""
    moved = {one.day for one in (*ahead.events, *ahead.drafts)}
    return [
        one
        for place, one in enumerate(ahead.days)
        if place <= LEAST_DAYS or place % 7 == 0 or one.day in moved or place == len(ahead.days) - 1
    ]


def happens_on(ahead: Ahead, words: Words) -> dict[object, list[str]]:
    """Return what happens on each day, in few words."""
    found: dict[object, list[str]] = {}
    for one in ahead.events:
        found.setdefault(one.day, []).append(_short(one, words))
    for draft in ahead.drafts:
        found.setdefault(draft.day, []).append(f"not counted: {_if_sent(draft, words, str(draft.order))}")
    return found


def _if_sent(one: Draft, words: Words, order: str) -> str:
    what = f"+\u00a0{count(one.packs, 'pack')} ({words.near(one.amount)})"
    sent = "sent today" if one.send_by == words.today else f"sent by {words.day(one.send_by)}"
    when = "nobody knows when" if one.day is None else f"about {words.day(one.day)}"
    if one.is_written:
        return f"if {order} is {sent}: {what} {when}"
    return f"if {order} is {sent} as the house would order: {what} {when}"


def _draft(one: Draft, words: Words) -> EventLine:
    said, href = _if_sent(one, words, "it"), reverse("web:order", args=[one.order.pk])
    mark = mark_of("written" if one.is_written else "order_decide")
    return EventLine(str(one.order), href, f"{said[0].upper()}{said[1:]}", f"+{words.near(one.amount)}", mark)


def _short(one: Event, words: Words) -> str:
    if isinstance(one, RunEvent):
        lacks = f" ({words.lacking(one.lacking)} not there)" if one.lacking else ""
        return f"{one.run.formula.name} takes {words.near(one.needed)}{lacks}"
    if isinstance(one, ArrivalEvent):
        return f"{words.near(one.amount)} of {one.arrival.line.order} likely come"
    return f"{words.near(one.amount)} of {_what_expires(one)} expire"


def _what_expires(one: ExpiryEvent) -> str:
    return f"lot {one.lot.number}" if one.lot is not None else f"what {one.arrival.line.order} brings"


def _event(one: Event, words: Words) -> EventLine:
    if isinstance(one, RunEvent):
        return _run(one, words)
    if isinstance(one, ArrivalEvent):
        order = one.arrival.line.order
        ends = "" if one.early == one.safe else f"; early {words.day(one.early)}, safely by {words.day(one.safe)}"
        note = f"likely comes {words.on(one.day)}{ends}"
        return EventLine(str(order), reverse("web:order", args=[order.pk]), note, f"+{words.near(one.amount)}", None)
    lot, when = one.lot, words.on(one.day - timedelta(days=1))
    href = reverse("web:lot", args=[lot.pk]) if lot is not None else reverse("web:order", args=[one.arrival.line.order_id])
    name = f"Lot {lot.number} expires" if lot is not None else f"What {one.arrival.line.order} brings expires"
    more = f"; {words.near(one.most)} if little is used" if one.most > one.amount else ""
    return EventLine(
        name, href, f"best before {when.removeprefix('on ')}{more}", f"−{words.near(one.amount)}", mark_of("expiring")
    )


def _run(one: RunEvent, words: Words) -> EventLine:
    run = one.run
    note = words.on(one.day)
    if run.state == Run.State.POURED:
        note = "poured, and not booked yet"
    elif run.pour_on < words.today:
        note = f"was planned for {day_words(run.pour_on, today=words.today)}, so it counts as today’s"
    if one.lacking > one.short:
        note += f"; with usual use besides {words.lacking(one.lacking)} of it will not be there"
    elif one.short:
        note += f"; {words.lacking(one.short)} of it will not be there"
    if one.made_up:
        note += f"; {words.lacking(one.made_up)} of it made up from its parts"
    mark = mark_of("short" if one.short else "perhaps_short" if one.short_safe else "enough")
    return EventLine(
        run.formula.name, reverse("web:run", args=[run.pk]), note, f"−{words.near(one.needed - one.made_up)}", mark
    )


def _drawing(ahead: Ahead, words: Words) -> StockDrawing:
    material = ahead.material
    most = max([ahead.usable, *(max(one.high, one.planned_left) for one in ahead.days)])
    unit, in_unit = _unit_of(material, most)
    happens, said = happens_on(ahead, words), {one.day for one in days_shown(ahead)}
    days = [
        StockDay(
            place,
            one.left / in_unit,
            one.low / in_unit,
            one.high / in_unit,
            one.planned_left / in_unit,
            _cursor(one, happens.get(one.day, []), words) if one.day in said else "",
        )
        for place, one in enumerate(ahead.days)
    ]
    return StockDrawing(
        material=material.name,
        key=f"ahead-{material.pk}",
        today=words.today,
        opening=ahead.usable / in_unit,
        days=days,
        marks=list(_marks(ahead, words)),
        flags=list(_flags(ahead, words)),
        unit=unit,
        said=" ".join([verdict(ahead, words), *accounts(ahead, words)]),
        has_unplanned=any(one.left != one.planned_left for one in ahead.days),
    )


def _unit_of(material: Material, most: float) -> tuple[str, float]:
    """Return in what the drawing counts, and how many grams or pieces that is."""
    if material.measure == Material.Measure.PIECES:
        return "pieces", 1.0
    unit = material.workshop.unit
    larger, from_g = _LARGER[unit]
    shown_in = larger if most >= from_g else unit
    return shown_in, float(GRAMS_PER[shown_in])


def _cursor(one: DayFigures, happens: list[str], words: Words) -> str:
    between = "" if one.low == one.high else f", between {words.near(one.low)} and {words.near(one.high)}"
    day = words.day(one.day)
    return "; ".join([f"{day[0].upper()}{day[1:]}: {words.near(one.left)} left{between}", *happens])


def _marks(ahead: Ahead, words: Words) -> Iterator[StockMark]:
    def ahead_of(day: object) -> int:
        return (day - words.today).days

    for one in ahead.events:
        place = ahead_of(one.day)
        name = f"{words.day(one.day)}: {_short(one, words)}"
        if isinstance(one, ArrivalEvent):
            yield StockMark("comes", place, ahead_of(one.early), ahead_of(one.safe), name)
        elif isinstance(one, RunEvent):
            yield StockMark("runs", place, place, place, name)
        elif one.amount:
            yield StockMark("expires", place, place, place, name)
    for draft in ahead.drafts:
        if draft.day is not None and draft.day <= ahead.days[-1].day:
            place = ahead_of(draft.day)
            yield StockMark("if sent", place, place, place, _if_sent(draft, words, str(draft.order)))


def _flags(ahead: Ahead, words: Words) -> Iterator[StockFlag]:
    likely, lean = ahead.likely.short_on, ahead.lean.short_on
    # The sooner above the later: so no line runs through the other's word.
    if lean is not None and (likely is None or lean < likely):
        yield StockFlag((lean - words.today).days, f"perhaps short {words.day(lean)}", is_likely=False)
    if likely is not None:
        is_by_plan = likely == ahead.planned.short_on
        label = f"{'short' if is_by_plan else 'likely short'} {words.day(likely)}"
        yield StockFlag((likely - words.today).days, label, is_likely=True)
