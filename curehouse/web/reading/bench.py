"""What the Bench shows: batches as lines, and how the next one may begin."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.paginator import Page, Paginator
from django.urls import reverse

from curehouse.common.errors import DomainError
from curehouse.common.units import from_grams, show_mass
from curehouse.curing.models import Position, SampleBar
from curehouse.curing.services.places import bars_without_place
from curehouse.flows.pour_ahead import recorded_yield
from curehouse.making.leaving import HELD, obstacles
from curehouse.making.liquids import liquid_kinds
from curehouse.making.lye import alkalis_in_words
from curehouse.making.models import Batch, BatchLiquid, Formula, Run
from curehouse.making.services import MOST_BARS
from curehouse.web.access import Visit
from curehouse.web.forms.batch import APART, as_confirmed
from curehouse.web.forms.fields import trimmed
from curehouse.web.marks import Mark, mark_beside, mark_of
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.pour import lye_figure, start_from
from curehouse.web.reading.weights import weight
from curehouse.web.reading.words import count

PAGE_OF_BATCHES = 25
_LIKE_THE_LAST = 6
_MOST_NAMES = 500


@dataclass(frozen=True, slots=True)
class BatchLine:
    """A batch as a line of the Bench."""

    name: str
    href: str
    note: str
    bars: str
    mark: Mark
    beside: Mark | None
    cut_href: str


@dataclass(frozen=True, slots=True)
class LastOne:
    """The newest batch of a formula, to begin the next one like it."""

    formula: str
    href: str


def _line(batch: Batch, calendar: Calendar) -> BatchLine:
    cure = getattr(batch, "cure", None)
    is_curing = batch.state == Batch.State.CURING and cure is not None
    said = [f"poured {calendar.day(batch.poured_at)}"] if batch.pour_known else []
    if batch.cut_at is not None:
        said.append(f"cut {calendar.day(batch.cut_at)}")
    return BatchLine(
        name=str(batch),
        href=reverse("web:batch", args=[batch.pk]),
        note=", ".join(said),
        bars=f"{batch.bars_left} of {count(batch.bars_cut, 'bar')}" if batch.bars_cut else "",
        mark=mark_of(cure.shown_as if is_curing else batch.state),
        beside=_beside(batch, cure.shown_as if is_curing else ""),
        cut_href=reverse("web:batch_cut", args=[batch.pk]) if batch.state == Batch.State.POURED else "",
    )


def _beside(batch: Batch, shown_as: str) -> Mark | None:
    """Return the mark of what stands in the way of a batch's bars; of one that is not cut yet only a hold does."""
    found = obstacles(batch, last_check_passed=batch.last_check_passed, hold_cause=batch.hold_cause)
    if not shown_as:
        found = tuple(one for one in found if one.code == HELD and batch.state == Batch.State.POURED)
    return mark_beside(shown_as, [one.code for one in found])


def batch_page(visit: Visit, *, search: str, number: str | None) -> tuple[Page, list[BatchLine]]:
    """Return a page of the workshop's batches, those that still stand first."""
    found = (
        Batch.objects.within(visit.workshop)
        .matching(search)
        .with_last_check()
        .with_hold()
        .select_related("formula", "cure__assessment")
        .open_first()
    )
    page = Paginator(found, PAGE_OF_BATCHES).get_page(number)
    calendar = Calendar(visit.workshop, visit.at)
    return page, [_line(batch, calendar) for batch in page]


def last_ones(visit: Visit) -> list[LastOne]:
    """Return the newest batch of each of the formulas poured last."""
    newest = Batch.objects.within(visit.workshop).last_of(Formula.objects.within(visit.workshop))[:_LIKE_THE_LAST]
    start = reverse("web:batch_new")
    return [LastOne(batch.formula.name, f"{start}?like={batch.pk}") for batch in newest]


def formula_names(visit: Visit) -> list[str]:
    """Return the names of the workshop's formulas."""
    return list(Formula.objects.within(visit.workshop).order_by("name").values_list("name", flat=True)[:_MOST_NAMES])


def positions(visit: Visit) -> list[Position]:
    """Return every position with its rack, in walking order."""
    return list(Position.objects.within(visit.workshop).in_walking_order())


def start_like(visit: Visit, batch: Batch) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what the next batch shares with *batch*: the formula and what goes in, but no time."""
    stated = batch.water_share_stated
    start, rows = _what_goes_in(visit, batch)
    start |= {"bars": batch.bars_cut or None, "water_share_stated": None if stated is None else stated * 100}
    marked = SampleBar.objects.within(visit.workshop).filter(batch=batch).count()
    if marked:
        start["sample_bars"] = marked
    return start, rows


def _what_goes_in(visit: Visit, batch: Batch) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what the next batch like *batch* begins with.

    From a version of a formula it stays with that version, in the same size: its lye is worked out by
    the lots of today, for the next bag may be purer than the one that went into *batch*.
    """
    liquids = BatchLiquid.objects.within(visit.workshop).filter(batch=batch).order_by("pk")
    start = {"formula_name": batch.formula.name, "fats_g": batch.fats_g}
    if batch.version is None:
        lyes = {"lye_g": batch.lye_g if batch.koh_g is None else batch.naoh_g or None, "koh_g": batch.koh_g or None}
        return {**start, **lyes}, [_row(liquid) for liquid in liquids]
    try:
        return start_from(visit, batch.version, batch.fats_g)
    except DomainError:
        # What cannot be worked out today has no lye to begin with; the page of the version says why.
        return {**start, "version": str(batch.version_id)}, [_row(liquid) for liquid in liquids]


def _row(liquid: BatchLiquid) -> dict[str, Any]:
    table = liquid_kinds().get(liquid.kind)
    is_own = table is None or liquid.water_fraction != table.water_fraction
    return {
        "kind": liquid.kind,
        "mass_g": liquid.mass_g,
        "place": liquid.place,
        "water_pct": liquid.water_fraction * 100 if is_own else None,
    }


def proposed_bars(visit: Visit, batch: Batch) -> tuple[int | None, str]:
    """Return how many bars a batch gives, and by what: as its run says, else by what batches of its formula gave."""
    run = Run.objects.within(visit.workshop).filter(batch=batch, bars__isnull=False).first()
    if run is not None:
        return run.bars, f"{run.bars} bars are proposed, as its run was planned."
    bars_per_g = recorded_yield(batch.formula)
    if bars_per_g is None or batch.fats_g is None:
        cut_before = Batch.objects.within(visit.workshop).filter(formula=batch.formula_id, bars_cut__gt=0)
        last = cut_before.newest_first().values_list("bars_cut", flat=True).first()
        return last, "" if last is None else f"{count(last, 'bar')} came of it the last time."
    bars = min(max(round(bars_per_g * float(batch.fats_g)), 1), MOST_BARS)
    oils = show_mass(batch.fats_g, visit.workshop.unit)
    return bars, f"{count(bars, 'bar')} are proposed, as its batches gave of {oils} of oils so far."


@dataclass(frozen=True, slots=True)
class LyeQuestion:
    """What can be answered to lye that is out of the usual: keep it, or take what was probably meant."""

    keep: str
    keep_grams: str
    take: str
    take_typed: str


def lye_question(refusal: DomainError | None, unit: str) -> LyeQuestion | None:
    """Return the answers offered to *refusal*, if it is about the lye."""
    if refusal is None or refusal.code != "lye_doubtful":
        return None
    lye_g, koh_g, guess_g = Decimal(refusal.data["lye_g"]), Decimal(refusal.data["koh_g"]), refusal.data["guess_g"]
    keep, take, take_typed = alkalis_in_words(lye_g, koh_g, lambda grams: weight(grams, unit)), "", ""
    # Where lye and a liquid changed places there are two figures to mend: that is the maker's to do.
    if guess_g is not None and not refusal.data["is_swapped"]:
        take_typed, take = _guess(Decimal(guess_g), Decimal(refusal.data.get("guess_koh_g", "0")), unit, refusal.data)
    return LyeQuestion(keep=keep, keep_grams=as_confirmed(lye_g, koh_g), take=take, take_typed=take_typed)


def _guess(lye_g: Decimal, koh_g: Decimal, unit: str, data: Mapping[str, Any]) -> tuple[str, str]:
    """Return what was probably meant, as it is typed and as it is read; KOH is known of a formula only."""
    if not data.get("by_formula", False):
        typed = trimmed(from_grams(lye_g, unit))
        return typed, f"{typed} {unit}"
    naoh, koh = lye_figure(lye_g - koh_g, unit), lye_figure(koh_g, unit)
    if not koh_g:
        return naoh, f"{naoh} {unit}"
    parts = [(lye_g - koh_g, f"{naoh} {unit} NaOH"), (koh_g, f"{koh} {unit} KOH")]
    return f"{naoh if lye_g > koh_g else ''}{APART}{koh}", " and ".join(said for grams, said in parts if grams)


def entered_words(batch: Batch) -> str:
    """Return what is to be done with a batch that has just come in."""
    if batch.state == Batch.State.POURED:
        return f"{batch} is entered. Cut it here once it is firm enough."
    letters = [bar.letter for bar in SampleBar.objects.within(batch.workshop).filter(batch=batch).order_by("pk")]
    bars = f"bars {letters[0]} to {letters[-1]}" if len(letters) > 1 else "bar A"
    words = f"{batch} is in the cure. Mark {bars} and weigh them now."
    loose = bars_without_place(batch)
    if loose == batch.bars_left:
        return f"{words} It has no place on a rack yet."
    return f"{words} {count(loose, 'bar')} found no place." if loose else words
