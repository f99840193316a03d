"""The store count: what is under way, shelf by shelf, lot after lot, and what one came to."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Q
from django.urls import reverse

from curehouse.web.access import Visit
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import amount_words, moved_words, roughly
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.storeroom import by_kind, kind_plural
from curehouse.web.reading.words import count
from inventory.models import Count, Lot, Material, StoreCount

MOST_ROWS = 20
# So many of those that ended stand on the page of the count.
_MOST_ENDED = 12


@dataclass(frozen=True, slots=True)
class Walk:
    """The lots to walk past (their keys, in order), each with its kind, and who counted which of them."""

    under_way: StoreCount | None
    lots: tuple[int, ...]
    kinds: dict[int, str]
    counted: dict[int, Count]

    @property
    def left(self) -> tuple[int, ...]:
        """Return the lots that are not counted yet, in order."""
        return tuple(pk for pk in self.lots if pk not in self.counted)

    def place(self, pk: int) -> int | None:
        """Return which one on the walk a lot is, from 1 on, or None where it is not on it."""
        return self.lots.index(pk) + 1 if pk in self.lots else None

    def after(self, pk: int) -> int | None:
        """Return the next lot to count behind *pk* on the walk, or None at its end."""
        behind = self.lots[self.place(pk) or 0 :]
        return next((one for one in behind if one not in self.counted and one != pk), None)


@dataclass(frozen=True, slots=True)
class Shelf:
    """The lots of one kind: how far they are counted, and where to begin or go on."""

    name: str
    said: str
    href: str
    mark: Mark | None


@dataclass(frozen=True, slots=True)
class Row:
    """A lot that was counted or is left to count."""

    name: str
    href: str
    note: str
    change: str = ""


@dataclass(frozen=True, slots=True)
class Ended:
    """A store count that has ended."""

    name: str
    href: str
    note: str


@dataclass(frozen=True, slots=True)
class Begun:
    """The page of the count: who began what is under way, who counted, and each shelf."""

    lead: str
    left: int
    first_left: int | None
    is_under_way: bool
    shelves: tuple[Shelf, ...]
    ended: tuple[Ended, ...]


@dataclass(frozen=True, slots=True)
class Summary:
    """What a store count came to so far, or in all."""

    store_count: StoreCount | None
    when: str
    counted: int
    lots_differing: int
    by_eye: int
    differing: tuple[Row, ...]
    left: tuple[Row, ...]
    lots_left: int
    first_left: int | None
    people: str


def counts_of_walk(visit: Visit, store_count: StoreCount):  # noqa: ANN201  (a QuerySet of the model's own)
    """Return the counts on a store count that were not taken back, with who counted."""
    rows = Count.objects.within(visit.workshop).filter(store_count=store_count).not_taken_back()
    return rows.select_related("by_user", "by_device").order_by("pk")


def read_walk(visit: Visit) -> Walk:
    """Read the walk: what is booked as here, and what is counted of it (four queries, however much is here)."""
    under_way = StoreCount.objects.within(visit.workshop).select_related("by_user", "by_device").under_way().first()
    counts = () if under_way is None else counts_of_walk(visit, under_way)
    counted = {row.lot_id: row for row in counts}
    lots = Lot.objects.within(visit.workshop).filter(Q(on_hand__gt=0) | Q(pk__in=list(counted)))
    materials = by_kind(Material.objects.within(visit.workshop)).values_list("pk", "kind")
    places = {pk: (place, kind) for place, (pk, kind) in enumerate(materials)}
    rows = sorted(lots.first_expired_first().values_list("pk", "material_id"), key=lambda row: places[row[1]][0])
    return Walk(under_way, tuple(pk for pk, _ in rows), {pk: places[material][1] for pk, material in rows}, counted)


def read_begun(visit: Visit) -> Begun:
    """Read the page of the count (a constant number of queries)."""
    walk, calendar = read_walk(visit), Calendar(visit.workshop, visit.at)
    ended = StoreCount.objects.within(visit.workshop).filter(ended_at__isnull=False).with_figures().newest_first()
    return Begun(
        lead=_lead(walk, calendar),
        left=len(walk.left),
        first_left=walk.left[0] if walk.left else None,
        is_under_way=walk.under_way is not None,
        shelves=tuple(_shelves(walk)),
        ended=tuple(
            Ended(
                name=_span(row, calendar),
                href=reverse("web:store_count_was", args=[row.pk]),
                note=", ".join(_figures(row.lots_counted, row.lots_differing, row.lots_left)),
            )
            for row in ended[:_MOST_ENDED]
        ),
    )


def _shelves(walk: Walk) -> Iterator[Shelf]:
    for kind, group in groupby(walk.lots, key=walk.kinds.__getitem__):
        lots = list(group)
        left = [pk for pk in lots if pk not in walk.counted]
        yield Shelf(
            name=kind_plural(kind),
            said=f"{len(lots) - len(left)} of {count(len(lots), 'lot')} counted" if walk.under_way else count(len(lots), "lot"),
            href=reverse("web:lot_walk", args=[left[0] if left else lots[0]]),
            mark=None if left else mark_of("counted"),
        )


def _lead(walk: Walk, calendar: Calendar) -> str:
    """Return who is at it since when."""
    if walk.under_way is None:
        return f"{count(len(walk.lots), 'lot')} to count. The first one that is counted begins it." if walk.lots else ""
    said = f"Begun {calendar.moment(walk.under_way.begun_at)}, by {walk.under_way.signed_by}."
    if not walk.counted:
        return said
    last = max(walk.counted.values(), key=lambda row: row.pk)
    return f"{said} {_people(walk.counted.values())}; the last {calendar.moment(last.written_at)}, by {last.signed_by}."


def _people(counts: Iterable[Count]) -> str:
    """Return who counted how many lots: ``Ottilie Brandt counted 3 lots, Wren Hale 2``."""
    many: dict[str, int] = {}
    for row in counts:
        many[row.signed_by] = many.get(row.signed_by, 0) + 1
    said = [
        f"{name} counted {count(lots, 'lot')}" if not at else f"{name} {lots}" for at, (name, lots) in enumerate(many.items())
    ]
    return ", ".join(said)


def _span(row: StoreCount, calendar: Calendar) -> str:
    begun, ended = calendar.day(row.begun_at), calendar.day(row.ended_at)
    return begun if begun == ended else f"{begun} to {ended}"


def _figures(counted: int, differing: int, left: int) -> list[str]:
    said = [f"{count(counted, 'lot')} counted", f"{differing} not as booked"]
    return said + ([f"{left} not counted"] if left else [])


def read_summary(visit: Visit, store_count: StoreCount | None) -> Summary:
    """Read what a store count came to: what differed and why, what was judged by eye, and what is left."""
    calendar = Calendar(visit.workshop, visit.at)
    walk = read_walk(visit)
    is_under_way = store_count is not None and store_count == walk.under_way
    rows = [] if store_count is None else list(_told(visit, store_count))
    left = walk.left if is_under_way or store_count is None else ()
    named = Lot.objects.within(visit.workshop).named().in_bulk(left[:MOST_ROWS])
    last_of_each = {row.lot_id: row for row in rows}
    return Summary(
        store_count=store_count,
        when="" if store_count is None else _when(store_count, calendar),
        counted=len(last_of_each),
        lots_differing=len({row.lot_id for row in rows if row.movement is not None}),
        by_eye=sum(row.is_estimate for row in last_of_each.values()),
        differing=tuple(_differing(row, visit) for row in reversed(rows) if row.movement is not None),
        left=tuple(
            Row(str(named[pk]), reverse("web:lot_walk", args=[pk]), f"supplier’s lot {named[pk].supplier_lot or 'not named'}")
            for pk in left[:MOST_ROWS]
        ),
        lots_left=len(left) if store_count is None or is_under_way else store_count.lots_left,
        first_left=left[0] if left else None,
        people=_people(last_of_each.values()) if rows else "",
    )


def _told(visit: Visit, store_count: StoreCount):  # noqa: ANN202  (a QuerySet of the model's own)
    return counts_of_walk(visit, store_count).select_related("lot__material", "movement", "by_user", "by_device")


def _when(row: StoreCount, calendar: Calendar) -> str:
    begun = f"Begun {calendar.moment(row.begun_at)}, by {row.signed_by}"
    return f"{begun}." if row.ended_at is None else f"{begun}; ended {calendar.moment(row.ended_at)}."


def _differing(row: Count, visit: Visit) -> Row:
    unit, material = visit.workshop.unit, row.lot.material
    counted, booked = (amount_words(one, material, unit) for one in (row.counted, row.expected))
    how = "judged by eye" if row.is_estimate else "counted"
    return Row(
        name=str(row.lot),
        href=reverse("web:lot", args=[row.lot_id]),
        note=f"{roughly(counted, is_estimate=row.is_estimate)} {how}, {booked} booked: {row.reason} ({row.signed_by})",
        change=roughly(moved_words(row.movement.amount, material, unit), is_estimate=row.is_estimate),
    )
