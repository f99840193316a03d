"""The store count: one lot after another, in the order of the Storeroom's page."""

from dataclasses import dataclass
from datetime import datetime, time

from django.db.models import Q
from django.urls import reverse

from curehouse.common.time import local_moment
from curehouse.web.access import Visit
from curehouse.web.reading.amounts import amount_words, moved_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.storeroom import by_kind
from inventory.models import Count, Lot, Material

MOST_ROWS = 20


@dataclass(frozen=True, slots=True)
class Walk:
    """The lots to walk past (their keys, in order), and those of them that were counted today."""

    lots: tuple[int, ...]
    counted: frozenset[int]

    @property
    def left(self) -> tuple[int, ...]:
        """Return the lots that were not counted today, in order."""
        return tuple(pk for pk in self.lots if pk not in self.counted)

    def place(self, pk: int) -> int | None:
        """Return which one on the walk a lot is, from 1 on, or None where it is not on it."""
        return self.lots.index(pk) + 1 if pk in self.lots else None

    def after(self, pk: int) -> int | None:
        """Return the next lot to count behind *pk* on the walk, or None at its end."""
        behind = self.lots[self.place(pk) or 0 :]
        return next((one for one in behind if one not in self.counted and one != pk), None)


@dataclass(frozen=True, slots=True)
class Row:
    """A lot that was counted or is left to count."""

    name: str
    href: str
    note: str
    change: str = ""


@dataclass(frozen=True, slots=True)
class Summary:
    """What today's count came to."""

    counted: int
    differing: tuple[Row, ...]
    left: tuple[Row, ...]
    lots_left: int
    first_left: int | None


def read_walk(visit: Visit) -> Walk:
    """Read the walk: what is booked as here, and what was counted today (three queries, however much is here)."""
    counted = frozenset(_counts(visit).values_list("lot_id", flat=True))
    lots = Lot.objects.within(visit.workshop).filter(Q(on_hand__gt=0) | Q(pk__in=counted))
    places = {
        pk: place for place, pk in enumerate(by_kind(Material.objects.within(visit.workshop)).values_list("pk", flat=True))
    }
    rows = lots.first_expired_first().values_list("pk", "material_id")
    return Walk(tuple(pk for pk, _material in sorted(rows, key=lambda row: places[row[1]])), counted)


def read_summary(visit: Visit) -> Summary:
    """Read what was counted today, what differed and why, and what is left."""
    walk, unit = read_walk(visit), visit.workshop.unit
    differing = _counts(visit).filter(movement__isnull=False, movement__corrected_by__isnull=True)
    rows = differing.select_related("lot__material", "movement").newest_first()
    left = walk.left
    named = Lot.objects.within(visit.workshop).named().in_bulk(left[:MOST_ROWS])
    return Summary(
        counted=len(walk.counted),
        differing=tuple(
            Row(
                name=str(row.lot),
                href=reverse("web:lot", args=[row.lot_id]),
                note=f"{amount_words(row.counted, row.lot.material, unit)} counted, "
                f"{amount_words(row.expected, row.lot.material, unit)} booked: {row.reason}",
                change=moved_words(row.movement.amount, row.lot.material, unit),
            )
            for row in rows
        ),
        left=tuple(
            Row(str(named[pk]), reverse("web:lot_walk", args=[pk]), f"supplier’s lot {named[pk].supplier_lot or 'not named'}")
            for pk in left[:MOST_ROWS]
        ),
        lots_left=len(left),
        first_left=left[0] if left else None,
    )


def _counts(visit: Visit):  # noqa: ANN202  (a QuerySet of the model's own)
    """Return today's counts by people; what a pour found is no count of the store."""
    return Count.objects.within(visit.workshop).filter(moment__gte=_midnight(visit)).by_people()


def _midnight(visit: Visit) -> datetime:
    return local_moment(Calendar(visit.workshop, visit.at).today, time(0), visit.workshop.time_zone)
