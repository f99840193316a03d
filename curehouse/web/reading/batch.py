"""A batch as its page shows it: where its cure stands, what was weighed, where it is, what went in."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.safestring import SafeString

from curehouse.core.cure.hindsight import in_hindsight
from curehouse.curing.models import Assessment, Cure, Occupancy, Placement, Reading, SampleBar, Turning
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.queries.weighing import ASKED, COUNTS
from curehouse.flows.superfats import superfat_said, superfat_said_today
from curehouse.making.leaving import GO_TO_NOBODY, HELD
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import Batch, BatchHold, SafetyCheck, TakeOut
from curehouse.web.drawing.curve import CurveDrawing
from curehouse.web.marks import Mark, mark_beside, mark_of
from curehouse.web.reading.batch_stock import BatchStock, read_batch_stock
from curehouse.web.reading.cut_seen import CutWords, read_cut
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.forecast import Outlook, read_outlook
from curehouse.web.reading.label import ChosenLabel, read_chosen
from curehouse.web.reading.standing import Standing
from curehouse.web.reading.turning import turned_words
from curehouse.web.reading.weighings import Record, curve_of, fetch_readings, fetch_reviews, record_of
from curehouse.web.reading.weights import weight
from curehouse.web.reading.words import count, percent, with_figures
from curehouse.workshops.models import Workshop

MOST_PLACEMENTS = 30
NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Where the cure stands; ``pending`` while the house is still looking at the newest weighing."""

    batch: Batch
    mark: Mark
    beside: Mark | None
    tag: str
    age: str
    pending: bool
    sentences: tuple[SafeString, ...]
    advice: tuple[str, ...]
    as_of: str
    weekly_loss: str
    total_loss: str
    water_left: str
    outlook: Outlook | None
    label: ChosenLabel | None
    can_be_labelled: bool


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bars of the batch at one position."""

    position_id: int
    name: str
    bars: str


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a history: the day, what happened, who says so."""

    day: str
    what: str
    note: str
    by: str


@dataclass(frozen=True, slots=True)
class Check:
    """A safety check on record."""

    day: str
    passed: bool
    found: str
    limit: str
    note: str
    by: str


@dataclass(frozen=True, slots=True)
class Ingredient:
    """What went in, and how much of it."""

    name: str
    mass: str
    note: str


@dataclass(frozen=True, slots=True)
class BatchView:
    """Everything on a batch's page."""

    batch: Batch
    verdict: Verdict
    is_curing: bool
    bars: tuple[SampleBar, ...]
    gone: tuple[SampleBar, ...]
    is_to_weigh: bool
    starts_weighing: bool
    cut: CutWords
    record: Record | None
    curve: CurveDrawing | None
    places: tuple[Stretch, ...]
    loose: int
    history: tuple[Line, ...]
    older_placements: int
    turned: tuple[str, ...]
    checks: tuple[Check, ...]
    taken: tuple[Line, ...]
    ingredients: tuple[Ingredient, ...]
    water_share: str
    superfat: str
    superfat_today: str
    stock: BatchStock


def read_verdict(batch: Batch, calendar: Calendar) -> Verdict:
    """Read where a batch's cure stands (one query)."""
    at_hand = ("batch__formula", "assessment", "forecast__record", "forecast__prior")
    at_hand += ("label__forecast", "label__by_user", "label__by_device")
    cure = Cure.objects.within(batch.workshop).filter(batch=batch).select_related(*at_hand).with_obstacles().first()
    newest = cure.assessment if cure else None
    curing = batch.state == Batch.State.CURING and cure is not None
    gone = batch.state == Batch.State.CLOSED
    mark = mark_of(cure.shown_as if curing else batch.state)
    stays = [one.code for one in obstacles_of(cure)] if curing else []
    if batch.state == Batch.State.POURED and BatchHold.objects.within(batch.workshop).filter(batch=batch).standing().exists():
        stays = [HELD]
    return Verdict(
        batch=batch,
        mark=mark,
        beside=mark_beside(mark.state, stays),
        tag=f"day {calendar.days_since(batch.cut_at)}" if curing and cure.state == "curing" else "",
        age=_age(batch, calendar),
        pending=cure is not None and cure.assess_wanted_at is not None,
        sentences=tuple(with_figures(_said(reason, gone=gone)) for reason in newest.reasons) if newest else (),
        advice=tuple(newest.advice) if newest and curing else (),
        as_of=_as_of(cure, newest, calendar, gone=gone) if cure and newest else "",
        weekly_loss=percent(newest.weekly_loss_pct if newest else None),
        total_loss=_total_loss(newest),
        water_left=NOT_KNOWN if newest is None or newest.water_left_pct is None else percent(newest.water_left_pct),
        outlook=read_outlook(cure, batch.workshop, calendar) if curing else None,
        label=read_chosen(cure, batch.workshop, calendar),
        can_be_labelled=GO_TO_NOBODY.isdisjoint(stays),
    )


def _total_loss(newest: Assessment | None) -> str:
    """Return the total loss, and since when it counts where no bar was weighed at the cut."""
    loss = percent(newest.total_loss_pct if newest else None)
    bars = newest.figures.get("bars", ()) if newest else ()
    days = [bar.get("start_day") for bar in bars if not bar["starts_at_cut"]]
    known = [day for day in days if day is not None]
    if not known or len(days) < len(bars):
        return loss
    return f"{loss} since its first weighing on day\u00a0{round(min(known))}"


def _said(reason: Mapping[str, Any], *, gone: bool) -> str:
    if not gone:
        return str(reason["text"])
    figures = {figure["name"]: figure["value"] for figure in reason["figures"]}
    return in_hindsight(reason["code"], reason["text"], figures)


def _as_of(cure: Cure, newest: Assessment, calendar: Calendar, *, gone: bool) -> str:
    """Return what the verdict rests on: its moment, or the last weighings where these are long ago."""
    if gone:
        return f"Its last verdict, of {calendar.day(newest.moment)}: {mark_of(cure.shown_as).word}."
    weighed = cure.last_weighed_at
    if weighed is not None and calendar.day_of(weighed) < calendar.day_of(newest.moment):
        return f"From the weighings up to {calendar.day(weighed)}."
    return f"As of {calendar.day(newest.moment)}."


def _age(batch: Batch, calendar: Calendar) -> str:
    poured = f"Poured {calendar.day(batch.poured_at)}" if batch.pour_known else "The day of the pour is not known"
    if batch.cut_at is None:
        return f"{poured}, {calendar.ago(batch.poured_at)}; not cut yet."
    days = calendar.days_since(batch.cut_at)
    since = f", day {days} since" if batch.state == Batch.State.CURING else ""
    return f"Cut {calendar.day(batch.cut_at)}{since}. {poured}."


def read_batch(batch: Batch, workshop: Workshop, calendar: Calendar) -> BatchView:
    """Read everything on a batch's page (fourteen queries, however much is on record)."""
    bars = list(SampleBar.objects.within(workshop).filter(batch=batch).order_by("letter"))
    readings = fetch_readings(batch, bars)
    reviews = fetch_reviews(batch)
    standing = Standing(Occupancy.objects.within(workshop).filter(batch=batch).standing())
    history = _history(batch, calendar)
    verdict = read_verdict(batch, calendar)
    return BatchView(
        batch=batch,
        verdict=verdict,
        is_curing=batch.state == Batch.State.CURING,
        bars=tuple(bar for bar in bars if bar.ended_at is None),
        gone=tuple(bar for bar in bars if bar.ended_at is not None),
        is_to_weigh=_is_to_weigh(bars, readings, calendar),
        starts_weighing=_is_to_weigh(bars, readings, calendar) and not any(row.standing in (COUNTS, ASKED) for row in readings),
        cut=read_cut(batch, readings, calendar),
        record=record_of(batch, bars, readings, reviews, workshop=workshop, calendar=calendar) if batch.cut_at else None,
        curve=curve_of(batch, bars, readings, workshop, verdict.outlook) if readings else None,
        places=tuple(
            Stretch(row.position_id, str(row.position), count(row.bars, "bar")) for row in standing.of_batch(batch.pk)
        ),
        loose=standing.loose(batch),
        history=history,
        older_placements=max(Placement.objects.within(workshop).filter(batch=batch).count() - len(history), 0),
        turned=turned_words(list(Turning.objects.within(workshop).filter(batch=batch).newest_first()), calendar),
        checks=_checks(batch, calendar),
        taken=_taken(batch, calendar),
        ingredients=_ingredients(batch, workshop),
        water_share=_water_share(batch),
        superfat=superfat_said(batch),
        superfat_today=superfat_said_today(batch),
        stock=read_batch_stock(batch, workshop, calendar),
    )


def _is_to_weigh(bars: Sequence[SampleBar], readings: Sequence[Reading], calendar: Calendar) -> bool:
    """Return whether a sample bar on the rack has not been weighed today."""
    standing = (row for row in readings if row.standing in (COUNTS, ASKED))
    weighed = {row.bar_id for row in standing if calendar.days_since(row.moment) == 0}
    return any(bar.ended_at is None and bar.pk not in weighed for bar in bars)


def _history(batch: Batch, calendar: Calendar) -> tuple[Line, ...]:
    return placement_lines(
        Placement.objects.within(batch.workshop).filter(batch=batch).newest_first()[:MOST_PLACEMENTS], calendar
    )


def placement_lines(rows: Iterable[Placement], calendar: Calendar) -> tuple[Line, ...]:
    """Return where bars were put, moved, turned and taken from, as a history tells it."""
    return tuple(Line(calendar.moment(row.at), _placement_words(row), "", row.signed_by) for row in rows)


def _placement_words(row: Placement) -> str:
    bars = count(row.bars, "bar")
    return {
        Placement.Act.PLACED: f"{bars} placed at {row.target}",
        Placement.Act.MOVED: f"{bars} moved from {row.origin} to {row.target}",
        Placement.Act.TURNED: f"{bars} turned at {row.origin}",
        Placement.Act.TAKEN: f"{bars} taken away from {row.origin}",
    }[Placement.Act(row.act)]


def _checks(batch: Batch, calendar: Calendar) -> tuple[Check, ...]:
    rows = SafetyCheck.objects.within(batch.workshop).filter(batch=batch).newest_first()
    return tuple(
        Check(
            day=calendar.moment(row.at),
            passed=row.passed,
            found=f"{row.method}: {row.value}",
            limit=row.limit.rstrip("."),
            note=row.note,
            by=row.signed_by,
        )
        for row in rows.select_related("by_user", "by_device")
    )


def _taken(batch: Batch, calendar: Calendar) -> tuple[Line, ...]:
    rows = TakeOut.objects.within(batch.workshop).filter(batch=batch).select_related("by_user", "by_device")
    return tuple(
        Line(
            calendar.moment(row.at),
            f"{count(row.bars, 'bar')} {row.get_purpose_display()}",
            f"not ready then: {row.forced_reason}" if row.forced_reason else "",
            row.signed_by,
        )
        for row in rows.order_by("-at", "-id")
    )


def _ingredients(batch: Batch, workshop: Workshop) -> tuple[Ingredient, ...]:
    kinds, unit = liquid_kinds(), workshop.unit
    liquids: Sequence[Ingredient] = [
        Ingredient(
            name=_capital(kinds[row.kind].name if row.kind in kinds else row.kind),
            mass=_mass(row.mass_g, unit),
            note=f"{row.get_place_display()}; {100 * row.water_fraction:.0f} % water",
        )
        for row in batch.liquids.order_by("place", "pk")
    ]
    return (
        Ingredient("Fats", _mass(batch.fats_g, unit), ""),
        *_lyes(batch, unit),
        *liquids,
    )


def _lyes(batch: Batch, unit: str) -> list[Ingredient]:
    """Return each alkali by itself; all of it as one where nobody said how much of it is which."""
    note = "out of the usual, confirmed at the entry" if batch.lye_confirmed else ""
    if batch.koh_g is None or batch.naoh_g is None:
        is_mixed = batch.version is not None and 0 < batch.version.naoh_share < 1
        said = "NaOH and KOH together, not weighed apart" if is_mixed else ""
        return [Ingredient("Lye", _mass(batch.lye_g, unit), "; ".join(one for one in (said, note) if one))]
    parts = [("Sodium hydroxide (NaOH)", batch.naoh_g), ("Potassium hydroxide (KOH)", batch.koh_g)]
    return [Ingredient(name, _mass(grams, unit), note) for name, grams in parts if grams]


def _mass(grams: Decimal | None, unit: str) -> str:
    """Return what went in as it was weighed: ``2160 g``, ``295.9 g``."""
    if grams is None:
        return NOT_KNOWN
    return weight(grams, unit).replace(f".0 {unit}", f" {unit}")


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]


def _water_share(batch: Batch) -> str:
    if batch.water_share_computed is None:
        return f"{100 * batch.water_share_stated:.1f} % of the fresh bar is water, as it was stated in the file."
    computed = f"{100 * batch.water_share_computed:.1f} %"
    if batch.water_share_stated is None:
        return f"{computed} of the fresh bar is water, computed from what went in."
    return f"{100 * batch.water_share_stated:.1f} % of the fresh bar is water, as you stated it ({computed} computed)."
