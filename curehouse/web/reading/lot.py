"""A lot's whole story, and a material's."""

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from django.core.paginator import Page, Paginator
from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.web.access import Visit
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import amount_words, held_words, moved_words, roughly
from curehouse.web.reading.blends import OriginView, read_origin, traced_batches
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.offers import money_of
from curehouse.web.reading.storeroom import LotLine, best_before_words, cover_words, lot_line, lot_state, rate_words
from curehouse.web.reading.to_order import Ordering, ordering_of, to_order_mark
from curehouse.workshops.roles import Right
from inventory.adapter import covers
from inventory.models import Count, Lot, LotCorrection, LotFile, LotRuling, LotValue, Material, Movement, Order
from inventory.services.papers import may_open
from inventory.services.recounts import place_of_count
from inventory.to_order import read_to_order

PAGE_OF_MOVEMENTS = 50


@dataclass(frozen=True, slots=True)
class MovementLine:
    """A movement: when, what, how much, and what was on hand after it."""

    pk: int
    when: str
    what: str
    amount: str
    after: str
    note: str
    by: str
    batch: str
    batch_href: str
    is_taken_back: bool
    can_be_taken_back: bool


@dataclass(frozen=True, slots=True)
class Said:
    """Something a person said of a lot."""

    when: str
    what: str
    note: str
    by: str
    take_back_href: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """A file of a lot."""

    pk: int
    name: str
    size: str
    when: str
    may_open: bool


@dataclass(frozen=True, slots=True)
class LotView:
    """Everything on a lot's page."""

    lot: Lot
    order: Order | None
    mark: Mark
    held: str
    facts: tuple[tuple[str, str], ...]
    movements: tuple[MovementLine, ...]
    page: Page
    counts: tuple[Said, ...]
    rulings: tuple[Said, ...]
    corrections: tuple[Said, ...]
    values: tuple[Said, ...]
    papers: tuple[Paper, ...]
    batches: tuple[tuple[str, str], ...]
    origin: OriginView


def read_lot(visit: Visit, lot: Lot, number: str | None) -> LotView:
    """Read a lot's story (a constant number of queries)."""
    calendar, unit = Calendar(visit.workshop, visit.at), visit.workshop.unit
    page, movements = _movements(visit, lot, number, calendar)
    return LotView(
        lot=lot,
        order=Order.objects.within(visit.workshop).named().filter(lines__steps__lot=lot).first(),
        mark=mark_of(lot_state(lot, calendar.today)),
        held=held_words(lot, unit),
        facts=tuple(_facts(visit, lot, calendar)),
        movements=movements,
        page=page,
        counts=tuple(
            Said(
                calendar.moment(row.moment),
                counted_words(row, lot, unit),
                row.reason,
                row.signed_by,
                _take_back_href(row),
            )
            for row in _signed(Count, visit, lot).with_what_took_them_back().newest_first()
        ),
        rulings=tuple(
            Said(calendar.moment(row.at), row.get_standing_display(), row.why, row.signed_by)
            for row in _signed(LotRuling, visit, lot).newest_first()
        ),
        corrections=tuple(
            Said(calendar.moment(row.at), str(row), row.why, row.signed_by)
            for row in _signed(LotCorrection, visit, lot).order_by("-at", "-pk")
            if visit.may(Right.SEE_COSTS) or row.field != LotCorrection.Field.UNIT_COST
        ),
        values=tuple(
            Said(calendar.moment(row.at), row.name, f"{row.value.normalize():f} {row.unit}".strip(), row.signed_by)
            for row in _signed(LotValue, visit, lot).newest_of_each_name()
        ),
        papers=tuple(
            Paper(row.pk, row.name, _size(row.size_bytes), calendar.day(row.at), may_open(row, visit.rights))
            for row in LotFile.objects.within(visit.workshop).filter(lot=lot).newest_first()
        ),
        batches=tuple(traced_batches(visit, lot)),
        origin=read_origin(visit, lot),
    )


def _take_back_href(row: Count) -> str:
    """Return where a person's count is taken back; what else stands among the counts goes with something."""
    goes_with = row.by_list or row.for_use_id or row.restates_id or row.takes_back_id
    return "" if goes_with or row.is_taken_back else reverse("web:count_take_back", args=[row.pk])


def counted_words(row: Count, lot: Lot, unit: str) -> str:
    """Return what was found of a lot, against what was booked."""
    if row.takes_back_id is not None:
        return f"A count of {amount_words(row.counted, lot.material, unit)} taken back"
    return f"{_found_words(row, lot, unit)}{' (taken back)' if row.is_taken_back else ''}"


def _found_words(row: Count, lot: Lot, unit: str) -> str:
    counted, booked = (amount_words(one, lot.material, unit) for one in (row.counted, row.expected))
    if row.by_list:
        return f"{counted} on the stock list"
    if row.is_estimate and row.counted == row.expected:
        return f"{booked} booked, and by eye it may be that: the book stays"
    return (
        f"{roughly(counted, is_estimate=row.is_estimate)} {'judged by eye' if row.is_estimate else 'counted'}, {booked} booked"
    )


def already_words(visit: Visit, movement: Movement) -> str:
    """Return what a count says of a movement that was entered after it but dated before it, or nothing."""
    row = Count.objects.within(visit.workshop).that_take_up(movement).select_related("restates").first()
    if row is None:
        return ""
    held = held_words(movement.lot, visit.workshop.unit)
    return f"It was {row.reason}: on hand {'stays' if row.restates.for_use_id is None else 'is'} {held}."


def _signed(model: type, visit: Visit, lot: Lot):  # noqa: ANN202  (a QuerySet of the model's own)
    return model.objects.within(visit.workshop).filter(lot=lot).select_related("by_user", "by_device")


def _facts(visit: Visit, lot: Lot, calendar: Calendar) -> list[tuple[str, str]]:
    facts = [("what it holds", f"{mark_of('estimated').word}, {mark_of('estimated').meaning}")] if lot.is_estimated else []
    facts += [
        ("received", day_words(lot.received_on, today=calendar.today)),
        ("best before", best_before_words(lot, calendar.today).removeprefix("best before ")),
        ("supplier", lot.supplier.name if lot.supplier else "not named"),
        ("supplier’s lot", lot.supplier_lot or "not named"),
    ]
    if lot.unit_cost is not None and visit.may(Right.SEE_COSTS):
        is_counted = lot.material.measure == Material.Measure.PIECES
        cost = lot.unit_cost if is_counted else lot.unit_cost * 1000
        facts.append(("cost", f"{_money(cost)} {visit.workshop.currency} a {'piece' if is_counted else 'kg'}"))
    return facts


def _money(amount: Decimal) -> str:
    text = f"{amount:.4f}".rstrip("0")
    whole, _, part = text.partition(".")
    return f"{whole}.{part.ljust(2, '0')}"


def _size(size_bytes: int) -> str:
    return f"{size_bytes / 2**20:.1f} MB" if size_bytes >= 2**20 else f"{max(size_bytes // 1024, 1)} KB"


def _movements(visit: Visit, lot: Lot, number: str | None, calendar: Calendar) -> tuple[Page, tuple[MovementLine, ...]]:
    """Return a page of a lot's movements, the newest first, each with what was on hand after it."""
    # By the lot alone, which is of this workshop: asked for both, SQLite counts by the workshop's index.
    rows = lot.movements.all()
    page = Paginator(
        rows.newest_first()
        .with_their_counts()
        .select_related("corrected_by", "by_user", "by_device", "batch_use__batch__formula", "count_of__restates"),
        PAGE_OF_MOVEMENTS,
    ).get_page(number)
    shown = list(page)
    after = lot.on_hand
    if page.number > 1 and shown:
        # What happened after the first row of this page is taken off again.
        later = rows.newest_first().values_list("amount", flat=True)[: page.start_index() - 1]
        after = lot.on_hand - sum(later, Decimal(0))
    lines, by_eye = [], _by_eye(visit, lot)
    for row in shown:
        then = roughly(amount_words(after, lot.material, visit.workshop.unit), is_estimate=by_eye(row))
        lines.append(_movement_line(row, lot, then, visit.workshop.unit, calendar))
        after -= row.amount
    return page, tuple(lines)


def _by_eye(visit: Visit, lot: Lot) -> Callable[[Movement], bool]:
    """Return a way to say whether what a lot held after a movement (with its place) rests on an estimate."""
    counts = list(Count.objects.within(visit.workshop).filter(lot=lot).standing())
    places = [place_of_count(one) for one in counts]

    def says(row: Movement) -> bool:
        before = bisect_right(places, (row.moment, row.told_at, row.told_as))
        return bool(before) and counts[before - 1].is_estimate

    return says


def _movement_line(row: Movement, lot: Lot, after: str, unit: str, calendar: Calendar) -> MovementLine:
    use = getattr(row, "batch_use", None)
    is_back, count = hasattr(row, "corrected_by"), getattr(row, "count_of", None)
    # What follows from a count or a use goes with it.
    follows = count is not None and (count.restates_id is not None or count.for_use_id is not None)
    return MovementLine(
        pk=row.pk,
        when=calendar.moment(row.moment),
        what=row.get_kind_display() + (", by eye" if row.is_estimate else ""),
        amount=roughly(moved_words(row.amount, lot.material, unit), is_estimate=row.is_estimate),
        after=after,
        note=row.reason,
        by=row.signed_by,
        batch=str(use.batch) if use else "",
        batch_href=reverse("web:batch", args=[use.batch_id]) if use else "",
        is_taken_back=is_back,
        can_be_taken_back=not is_back and not follows and row.kind != Movement.Kind.REVERSAL,
    )


@dataclass(frozen=True, slots=True)
class MaterialView:
    """Everything on a material's page."""

    material: Material
    mark: Mark | None
    ordering: Ordering | None
    usable: str
    on_hand: str
    is_estimated: bool
    cover: str
    rate: str
    lots: tuple[LotLine, ...]
    page: Page


def read_material(visit: Visit, material: Material, number: str | None) -> MaterialView:
    """Read a material with its lots: what is here first, in the order it is used up."""
    calendar, unit = Calendar(visit.workshop, visit.at), visit.workshop.unit
    row = Material.objects.within(visit.workshop).with_stock(on=calendar.today).get(pk=material.pk)
    cover = covers(workshop=visit.workshop, at=visit.at, materials=[row.pk]).get(row.pk)
    lots = Lot.objects.within(visit.workshop).filter(material=row).named().here_first()
    page = Paginator(lots, PAGE_OF_MOVEMENTS).get_page(number)
    ordering = read_to_order(workshop=visit.workshop, on=calendar.today)
    mark = mark_of("retired") if row.retired_at else to_order_mark(row.pk, ordering)
    return MaterialView(
        material=row,
        mark=mark,
        ordering=None if row.retired_at else ordering_of(row.pk, ordering, calendar.today, money_of(visit)),
        usable=roughly(amount_words(row.usable, row, unit), is_estimate=row.usable_is_estimated),
        on_hand=roughly(amount_words(row.on_hand, row, unit), is_estimate=row.on_hand_is_estimated),
        is_estimated=row.on_hand_is_estimated,
        cover=cover_words(cover),
        rate=rate_words(cover, row, unit),
        lots=tuple(lot_line(lot, calendar, unit) for lot in page),
        page=page,
    )
