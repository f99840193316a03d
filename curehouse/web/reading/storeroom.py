"""The Storeroom: what is here of each material, how long it lasts, what expires, what waits for a word."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from django.core.paginator import Page, Paginator
from django.db.models import Case, IntegerField, QuerySet, Value, When
from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.flows.stock_notices import SOON
from curehouse.web.access import Visit
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import about_words, amount_words, held_words, roughly
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.to_order import to_order_mark, to_order_words
from curehouse.web.reading.words import count
from inventory.adapter import Cover, covers
from inventory.models import Lot, Material
from inventory.to_order import ToOrder, read_to_order

PAGE_OF_MATERIALS = 40
# What is listed as expiring; what is marked expires sooner, and what is told by what will be left (flows/stock_notices.py).
_LISTED = timedelta(days=60)
MOST_LOTS = 8
_LONG_DAYS = 365
_KINDS = {kind.value: place for place, kind in enumerate(Material.Kind)}
_PLURALS = {
    "fat": "Fats", "lye": "Lye", "liquid": "Liquids", "additive": "Additives", "fragrance": "Fragrances",
    "colour": "Colours", "packaging": "Packaging", "bars": "Bars",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """A material as a line: what of it is usable, and how long that lasts."""

    name: str
    href: str
    usable: str
    cover: str
    aside: str
    mark: Mark | None


@dataclass(frozen=True, slots=True)
class LotLine:
    """A lot as a line."""

    name: str
    href: str
    note: str
    held: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class Storeroom:
    """Everything on the Storeroom's page."""

    groups: tuple[tuple[str, tuple[MaterialLine, ...]], ...]
    page: Page
    expiring: tuple[LotLine, ...]
    more_expiring: int
    waiting: tuple[LotLine, ...]
    more_waiting: int
    has_materials: bool
    search: str
    show: str


def kind_plural(kind: str) -> str:
    """Return the heading of a kind of material."""
    return _PLURALS[kind]


def by_kind(materials: QuerySet) -> QuerySet:
    """Return materials in the order in which kinds are thought of, each by name."""
    places = [When(kind=kind, then=Value(place)) for kind, place in _KINDS.items()]
    return materials.order_by(Case(*places, output_field=IntegerField()), "name", "pk")


def shown_materials(visit: Visit, *, search: str, show: str, known: ToOrder) -> QuerySet:
    """Return the materials that are asked for, in the page's order."""
    wanted = Material.objects.within(visit.workshop).filter(retired_at__isnull=show != "retired")
    if search:
        wanted = wanted.filter(name__icontains=search)
    if show == "order":
        wanted = wanted.filter(pk__in=known.proposed)
    return by_kind(wanted)


def read_storeroom(visit: Visit, *, search: str, show: str, number: str | None) -> Storeroom:
    """Read the page (a constant number of queries, whatever is in stock)."""
    calendar, unit = Calendar(visit.workshop, visit.at), visit.workshop.unit
    materials = Material.objects.within(visit.workshop)
    ordering = read_to_order(workshop=visit.workshop, on=calendar.today)
    wanted = shown_materials(visit, search=search, show=show, known=ordering)
    page = Paginator(wanted.values_list("pk", flat=True), PAGE_OF_MATERIALS).get_page(number)
    # Only what is on the page is summed up.
    keys = list(page)
    rows = by_kind(materials.filter(pk__in=keys).with_stock(on=calendar.today))
    known = covers(workshop=visit.workshop, at=visit.at, materials=keys)
    lines = [(row.kind, material_line(row, known.get(row.pk), ordering, unit, calendar.today)) for row in rows]
    lots = Lot.objects.within(visit.workshop).named()
    expiring = list(lots.expiring(by=calendar.today + _LISTED).exclude(standing="rejected")[: MOST_LOTS + 1])
    waiting = list(lots.in_stock().filter(standing="quarantine").order_by("received_on", "pk")[: MOST_LOTS + 1])
    return Storeroom(
        groups=tuple(
            (_PLURALS[kind], tuple(line for _kind, line in group)) for kind, group in groupby(lines, key=lambda one: one[0])
        ),
        page=page,
        expiring=tuple(lot_line(lot, calendar, unit) for lot in expiring[:MOST_LOTS]),
        more_expiring=len(expiring) > MOST_LOTS,
        waiting=tuple(lot_line(lot, calendar, unit) for lot in waiting[:MOST_LOTS]),
        more_waiting=len(waiting) > MOST_LOTS,
        has_materials=bool(keys) or materials.exists(),
        search=search,
        show=show,
    )


def material_line(material: Material, cover: Cover | None, ordering: ToOrder, unit: str, today: date) -> MaterialLine:
    """Return a material (with its stock) as a line."""
    idle = material.on_hand - material.usable
    aside = [f"{amount_words(idle, material, unit)} not in order"] if idle > 0 else []
    aside += ["part of it estimated"] if material.usable_is_estimated else []
    said = "" if material.retired_at else to_order_words(material.pk, ordering, today)
    return MaterialLine(
        name=material.name,
        href=reverse("web:material", args=[material.pk]),
        usable=roughly(amount_words(material.usable, material, unit), is_estimate=material.usable_is_estimated),
        cover=cover_words(cover),
        aside="; ".join([*aside, *([said] if said else [])]),
        mark=mark_of("retired") if material.retired_at else to_order_mark(material.pk, ordering),
    )


def cover_words(cover: Cover | None) -> str:
    """Return how long what is usable lasts at the recent rate."""
    if cover is None or cover.days is None:
        return "not used lately"
    if cover.days >= _LONG_DAYS:
        return "over a year at the recent rate"
    days = int(cover.days)
    return f"{count(days, 'day')} at the recent rate" if days else "less than a day at the recent rate"


def rate_words(cover: Cover | None, material: Material, unit: str) -> str:
    """Return how fast a material is used."""
    if cover is None or cover.a_day is None:
        return "Not used in the last 90 days, so no rate is known."
    return f"Used lately: {about_words(cover.a_day * 7, material, unit)} a week."


def lot_state(lot: Lot, today: date) -> str:
    """Return the name of the mark a lot stands under."""
    irregular = lot.irregular_on(today)
    if irregular:
        return "lot_rejected" if irregular == "rejected" else irregular
    if not lot.on_hand:
        return "used_up"
    return "expiring" if lot.best_before is not None and lot.best_before <= today + SOON else "in_order"


def best_before_words(lot: Lot, today: date) -> str:
    """Return a lot's best-before and how far it is."""
    if lot.best_before is None:
        return "no best-before"
    days = (lot.best_before - today).days
    when = day_words(lot.best_before, today=today)
    if days < 0:
        return f"best before {when}, {count(-days, 'day')} ago"
    return f"best before {when}, today" if days == 0 else f"best before {when}, in {count(days, 'day')}"


def over_words(lot: Lot, today: date) -> str:
    """Say of a lot that was past its best-before as it came what follows, and that its year may be a slip; else nothing."""
    if lot.best_before is None or lot.best_before >= lot.received_on:
        return ""
    day = day_words(lot.best_before, today=today)
    return (
        f"{lot} was past its best-before, {day}, when it came, so no run takes it. If that is a slip, put it right on its page."
    )


def lot_line(lot: Lot, calendar: Calendar, unit: str) -> LotLine:
    """Return a lot as a line."""
    said = ["estimated"] if lot.is_estimated else []
    said.append(best_before_words(lot, calendar.today))
    if lot.supplier_lot:
        said.append(f"supplier’s lot {lot.supplier_lot}")
    return LotLine(
        name=str(lot),
        href=reverse("web:lot", args=[lot.pk]),
        note=", ".join(said),
        held=held_words(lot, unit),
        mark=mark_of(lot_state(lot, calendar.today)),
    )
