"""Questions about orders: what is on its way, when it comes, how long suppliers take."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Self

from django.db.models import Case, F, IntegerField, Max, Min, OuterRef, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce, Greatest

from curehouse.core.stock.lead_time import LeadTime, lead_time
from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet

_ON_THE_WAY = ("sent", "partly_in")
# What is likely comes by its day as often as not, what is safe 95 times of 100.
EVEN, SAFE = 0.5, 0.95
# What has come by then was in time: later than 4 of 5 is late.
IN_TIME = 0.8
# Sooner than on its early day comes what comes by it 5 times of 100.
EARLY = 0.05
SHARES = (EARLY, EVEN, IN_TIME, SAFE)


class OrderQuerySet(ScopedQuerySet):
    """Orders."""

    def named(self) -> Self:
        """Return the orders with what their names are made of."""
        return self.select_related("supplier")

    def on_the_way(self) -> Self:
        """Return the orders of which something is still to come."""
        return self.filter(state__in=_ON_THE_WAY)

    def written(self) -> Self:
        """Return the orders that are not sent yet."""
        return self.filter(state="written")

    def open_first(self) -> Self:
        """Return the orders that want something of a person first, each kind with the newest first."""
        places = {"partly_in": 0, "sent": 0, "written": 1, "in": 2, "called_off": 2}
        whens = [When(state=state, then=Value(place)) for state, place in places.items()]
        return self.order_by(Case(*whens, output_field=IntegerField()), "-number")

    def newest_first(self) -> Self:
        """Return the orders by house number, the newest first."""
        return self.order_by("-number")


@dataclass(frozen=True, slots=True)
class Arrival:
    """What is still to come of a line: *amount* in grams or pieces.

    The likely day has even odds, the safe one 95 of 100 (``by_80_on``: 80, ``early_on``: 5) that it comes by it, given
    that it has not come yet; None where nothing of the supplier's came and nobody said how long they take. ``expected_on`` is
    the likely day as it was before any time had passed, or the day they said. Past that word, or without one past
    the day by which 80 of 100 come, the order is late. A day that was named for the order beats what is reckoned,
    until it has passed. ``best_before`` is what it would
    have if it came on the likely day, None where it keeps or nobody said.
    """

    line: Any
    packs: int
    amount: Decimal
    expected_on: date | None
    early_on: date | None
    likely_on: date | None
    by_80_on: date | None
    safe_on: date | None
    best_before: date | None
    is_late: bool


class OrderLineQuerySet(ScopedQuerySet):
    """Lines of orders."""

    def named(self) -> Self:
        """Return the lines with what their names are made of."""
        return self.select_related("order__supplier", "material", "offer")

    def with_packs(self) -> Self:
        """Add ``came`` (packs in stock), ``ended`` (will not come), ``damaged`` (not taken) and ``open_packs``."""
        steps = self.model._meta.get_field("steps").related_model.unscoped.filter(line=OuterRef("pk")).in_force()
        return self.annotate(
            came=_packs_of(steps.filter(lot__isnull=False)),
            ended=_packs_of(steps.filter(kind="ended")),
            damaged=_packs_of(steps.filter(kind="damaged", lot__isnull=True)),
        ).annotate(open_packs=Greatest(F("packs") - F("came") - F("ended"), Value(0)))

    def on_the_way(self) -> Self:
        """Return the lines of sent orders of which packs are still to come, with their figures."""
        return self.filter(order__state__in=_ON_THE_WAY).with_packs().filter(open_packs__gt=0)

    def in_order(self) -> Self:
        """Return the lines as they stand on the order."""
        return self.order_by("material__name", "pk")

    def arrivals(self, *, on: date) -> list[Arrival]:
        """Return what is still to come of these lines as seen on a day, the likeliest first; those without a day last."""
        lines = list(self.on_the_way().named().in_order())
        steps = self.model._meta.get_field("steps").related_model.unscoped
        taken = steps.lead_days(suppliers={line.order.supplier_id for line in lines}) if lines else Taken({})
        found = [_arrival(line, on=on, taken=taken) for line in lines]
        return sorted(found, key=lambda one: one.likely_on or date.max)


def _packs_of(steps: QuerySet) -> Coalesce:
    total = steps.order_by().values("line").annotate(total=Sum("packs")).values("total")
    return Coalesce(Subquery(total, output_field=IntegerField()), Value(0))


@dataclass(frozen=True, slots=True)
class Taken:
    """How many days each supplier took for each material, by both their keys, the oldest receipt first."""

    by_both: Mapping[tuple[int, int], Sequence[int]]

    def by(self, supplier: int) -> list[int]:
        """Return how many days a supplier took for anything."""
        return [days for (key, _material), ones in self.by_both.items() if key == supplier for days in ones]

    def counts(self, supplier: int, material: int) -> tuple[int, int]:
        """Return how many deliveries of a material from a supplier were seen, and how many of anything else of theirs."""
        seen = len(self.by_both.get((supplier, material), ()))
        return seen, len(self.by(supplier)) - seen

    def lead_time(self, supplier: int, material: int, *, said: int | None) -> LeadTime | None:
        """Return in how many days a supplier brings a material; *said*: as they say, which counts until something came.

        None where nothing of theirs came yet and nobody said.
        """
        all_of_theirs = self.by(supplier)
        usual = sum(all_of_theirs) / len(all_of_theirs) if all_of_theirs else said
        return None if usual is None else lead_time(self.by_both.get((supplier, material), ()), usual)


def _arrival(line: Any, *, on: date, taken: Taken) -> Arrival:
    order, named = line.order, line.order.promised_on
    # A day that was named is as good as a number of days, where nobody knows one.
    said = line.lead_days if line.lead_days is not None or named is None else (named - order.sent_on).days
    comes = taken.lead_time(order.supplier_id, line.material_id, said=said)
    amount = line.open_packs * line.pack
    if comes is None:
        return Arrival(line, line.open_packs, amount, None, None, None, None, None, None, is_late=False)
    # Until something of theirs came, what they say is their word.
    word = named or (None if taken.by(order.supplier_id) else line.expected_on)
    expected = word or order.sent_on + timedelta(days=comes.within(EVEN))
    late_after = word or order.sent_on + timedelta(days=comes.within(IN_TIME))
    # What has not come up to yesterday may come today.
    still = comes.still_open_after((on - order.sent_on).days - 1)
    early, likely, *later = [order.sent_on + timedelta(days=still.within(share)) for share in SHARES]
    if word is not None and word >= on:
        # A named day is missed by as much as the likely day is.
        less, _even, *spreads = [comes.within(share) - comes.within(EVEN) if named else 0 for share in SHARES]
        early = min(early, max(on, word + timedelta(days=less)))
        likely, later = word, [max(day, word + timedelta(days=more)) for day, more in zip(later, spreads, strict=True)]
    keeps = None if line.shelf_days is None else likely + timedelta(days=line.shelf_days)
    return Arrival(line, line.open_packs, amount, expected, early, likely, *later, keeps, is_late=late_after < on)


class OrderStepQuerySet(ScopedLedgerQuerySet):
    """What was done with orders."""

    def in_order(self) -> Self:
        """Return the steps as they were told."""
        return self.order_by("at", "pk")

    def newest_keys(self) -> dict[int, int]:
        """Return the key of the last step of each supplier's orders, by the key of the supplier."""
        return dict(self.order_by().values_list("order__supplier").annotate(newest=Max("pk")))

    def by_people(self) -> Self:
        """Return the steps that a person or a device took."""
        return self.exclude(by_user=None, by_device=None)


class OrderLineStepQuerySet(ScopedLedgerQuerySet):
    """Packs that came or will not come."""

    def in_force(self) -> Self:
        """Return the steps that were not taken back, without those that take others back."""
        return self.filter(takes_back__isnull=True, taken_back_by__isnull=True)

    def lead_days(self, *, suppliers: Collection[int] | None = None) -> Taken:
        """Return how many days suppliers took from sending to the first receipt of each line, as its lots have the day now."""
        came = self.in_force().filter(lot__isnull=False, line__order__sent_on__isnull=False)
        if suppliers is not None:
            came = came.filter(line__order__supplier__in=suppliers)
        columns = ("line", "line__order__supplier", "line__material", "line__order__sent_on")
        found: dict[tuple[int, int], list[int]] = {}
        for row in came.order_by().values(*columns).annotate(first=Min("lot__received_on")).order_by("first", "line"):
            # Put right later, the day of a receipt may lie before that of sending.
            days = max((row["first"] - row["line__order__sent_on"]).days, 0)
            found.setdefault((row["line__order__supplier"], row["line__material"]), []).append(days)
        return Taken(found)

    def of_lot(self, lot: Any) -> Any:
        """Return with what a lot came in by an order, if it did and stands, or None."""
        return self.in_force().filter(Q(lot=lot)).first()
