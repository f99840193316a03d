"""Whether what lots hold and how they stand is what their ledgers come to, in all workshops."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, OuterRef, Q, Subquery, Sum

from inventory.models import Count, Lot, LotRuling, Movement

_STEP = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class Difference:
    """Something kept that is not what its ledger comes to."""

    what: str
    kept: str
    reckoned: str

    def __str__(self) -> str:
        return f"{self.what}: {self.kept} kept, {self.reckoned} by the ledger"


def _exact(amount: Decimal | float) -> Decimal:
    # SQLite sums decimals as floats; a milligram is far above what that costs.
    return Decimal(amount).quantize(_STEP)


def _of_lots() -> Iterator[Difference]:
    sums = Movement.unscoped.order_by().values_list("lot").annotate(total=Sum("amount"))
    booked = {lot: _exact(total) for lot, total in sums}
    for pk, kept in Lot.unscoped.order_by("pk").values_list("pk", "on_hand"):
        if kept != booked.get(pk, 0):
            yield Difference(f"on hand of lot {pk}", str(kept), str(booked.get(pk, _exact(0))))


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


def differences() -> list[Difference]:
    """Return everything about stock that its ledgers do not bear out; none is as it must be."""
    return [*_of_lots(), *_of_standings(), *_of_counts(), *_of_reversals()]
