"""Whether what lots hold and how they stand is what their ledgers come to, in all workshops."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import F, OuterRef, Q, Subquery, Sum

from curehouse.common.steps import in_steps
from inventory.models import Count, Lot, LotCorrection, LotRuling, Movement, Order, OrderLine
from inventory.order_state import Packs, state_of
from inventory.services.recounts import place_of_count

_STEP = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class Difference:
    """Something kept that is not what its ledger comes to."""

    what: str
    kept: str
    reckoned: str
    by: str = "by the ledger"

    def __str__(self) -> str:
        return f"{self.what}: {self.kept} kept, {self.reckoned} {self.by}"


def _exact(amount: Decimal | float) -> Decimal:
    # SQLite sums decimals as floats; a milligram is far above what that costs.
    return Decimal(amount).quantize(_STEP)


def _of_lots() -> Iterator[Difference]:
    sums = Movement.unscoped.order_by().values_list("lot").annotate(total=Sum("amount"))
    booked = {lot: _exact(total) for lot, total in sums}
    for pk, kept in Lot.unscoped.order_by("pk").values_list("pk", "on_hand"):
        if kept != booked.get(pk, 0):
            yield Difference(f"on hand of lot {pk}", str(kept), str(booked.get(pk, _exact(0))))


class _LastCount:
    """The last count of a lot that stands, and what came after it: the second way to what it holds."""

    def __init__(self, count: Count) -> None:
        self._count = count
        self.booked = _exact(0)
        self._since = count.counted
        # A count that corrected nothing has no row: which rows of the very same instant it knew nobody can tell.
        self._same_instant = _exact(0)
        # When something was told for which a count was held anew: it is in what was counted. So is a receipt
        # whose day is corrected: it is taken back and booked anew at once.
        again = Count.unscoped.filter(lot=count.lot_id, restates__isnull=False).values_list("written_at", flat=True)
        days = LotCorrection.unscoped.filter(lot=count.lot_id, field=LotCorrection.Field.RECEIVED_ON)
        self._held_anew: set[datetime] = {*again, *days.values_list("at", flat=True)}

    def add(self, row: Movement) -> None:
        """Add a row of the ledger to both: it comes after the count, or went past it as the house once booked late rows."""
        count = self._count
        place = (row.moment, row.told_at, row.told_as)
        self.booked += row.amount
        if count.movement_id is None and place[:2] == (count.moment, count.written_at):
            self._same_instant += row.amount if row.kind != Movement.Kind.COUNT else 0
            return
        is_after = place > place_of_count(count)
        if is_after or (row.written_at > count.written_at and row.written_at not in self._held_anew):
            self._since += row.amount

    def difference(self) -> Difference | None:
        """Return what differs, if anything."""
        if self.booked in (self._since, self._since + self._same_instant):
            return None
        by = f"by the count of {self._count.moment:%Y-%m-%d %H:%M} UTC and what came after it"
        return Difference(f"on hand of lot {self._count.lot_id}", str(self.booked), str(self._since), by)


def _of_last_counts() -> Iterator[Difference]:
    last = {row.lot_id: row for row in Count.unscoped.standing()}
    for keys in in_steps(sorted(last)):
        ways = {key: _LastCount(last[key]) for key in keys}
        rows = Movement.unscoped.filter(lot__in=keys).with_places().order_by()
        for row in rows.iterator():
            ways[row.lot_id].add(row)
        yield from (found for one in ways.values() if (found := one.difference()) is not None)


def _of_estimates() -> Iterator[Difference]:
    by_eye = {row.lot_id: row.is_estimate for row in Count.unscoped.standing()}
    for pk, kept in Lot.unscoped.order_by("pk").values_list("pk", "is_estimated"):
        if kept != by_eye.get(pk, False):
            said = {True: "judged by eye", False: "not judged by eye"}
            yield Difference(f"what lot {pk} holds", said[kept], said[not kept], "by its last count")


def _of_standings() -> Iterator[Difference]:
    newest = LotRuling.unscoped.filter(lot=OuterRef("pk")).newest_first().values("standing")[:1]
    strays = Lot.unscoped.annotate(ruled=Subquery(newest)).filter(Q(ruled__isnull=True) | ~Q(ruled=F("standing")))
    for pk, kept, ruled in strays.order_by("pk").values_list("pk", "standing", "ruled"):
        yield Difference(f"standing of lot {pk}", kept, ruled or "no ruling")


def _of_counts() -> Iterator[Difference]:
    counts = Count.unscoped.order_by("pk").values_list(
        "pk", "counted", "expected", "by_list", "movement__amount", "movement__kind"
    )
    for pk, counted, expected, by_list, moved, kind in counts.iterator():
        fits = Movement.Kind.RECEIVE if by_list else Movement.Kind.COUNT
        if (moved or 0) != counted - expected or kind not in (None, fits):
            yield Difference(f"correction by count {pk}", str(counted - expected), str(moved or _exact(0)))
    for pk, moved in Movement.unscoped.filter(kind="count", count_of__isnull=True).order_by("pk").values_list("pk", "amount"):
        yield Difference(f"count of movement {pk}", "none", str(moved))


def _of_reversals() -> Iterator[Difference]:
    rows = Movement.unscoped.filter(kind="reversal").order_by("pk")
    for pk, lot, amount, its_lot, its_amount in rows.values_list(
        "pk", "lot", "amount", "corrects__lot", "corrects__amount"
    ).iterator():
        if lot != its_lot or amount != -its_amount:
            yield Difference(f"reversal {pk} on lot {lot}", str(amount), f"{-its_amount} on lot {its_lot}")


def _of_orders() -> Iterator[Difference]:
    packs: dict[int, list[Packs]] = {}
    for order, asked, came, ended in OrderLine.unscoped.with_packs().order_by().values_list("order", "packs", "came", "ended"):
        packs.setdefault(order, []).append(Packs(asked, came, ended))
    for pk, kept, sent_on in Order.unscoped.order_by("pk").values_list("pk", "state", "sent_on"):
        reckoned = state_of(is_sent=sent_on is not None, lines=packs.get(pk, ()))
        if kept != reckoned:
            yield Difference(f"state of order {pk}", kept, reckoned, "by its steps")


def differences() -> list[Difference]:
    """Return everything about stock and orders that their ledgers do not bear out; none is as it must be."""
    looks = (_of_lots, _of_last_counts, _of_estimates, _of_standings, _of_counts, _of_reversals, _of_orders)
    return [one for look in looks for one in look()]
