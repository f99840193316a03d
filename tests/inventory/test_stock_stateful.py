"""However stock comes, goes, is counted, taken back and brought in: no gram is lost or made, and none is owed."""

from datetime import datetime, time, timedelta
from decimal import Decimal
from itertools import accumulate
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule, run_state_machine_as_test

from curehouse.common.errors import DomainError
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from inventory.balance import differences
from inventory.models import MOST_ON_HAND, Count, Lot, Movement
from inventory.services.movements import count, give_back, receive_more, reverse, take_back_count, use, write_off
from tests.flows.bring_in.logs import write_csv
from tests.inventory.plain_book import PlainBook, Position
from tests.world import World

LOTS = st.integers(0, 2)
# Tenths and milligrams: what floats add badly; tonnes: what they lose milligrams in.
AMOUNTS = st.one_of(
    st.decimals(Decimal(0), Decimal(3), places=1),
    st.decimals(Decimal(0), Decimal(900), places=3),
    st.decimals(Decimal(999990), Decimal(999999), places=3),
)
HOURS_AGO = st.integers(0, 72)
# The lot that came in with a stock list, which tells of the morning of the day.
LISTED = 2
STOCK = ("material", "kind", "amount", "lot", "received")
USES = ("material", "lot number", "amount", "used on")


def bring(world: World, kind: str, headers: tuple[str, ...], row: tuple[Any, ...]) -> Outcome:
    with TemporaryDirectory() as folder:
        given: FileGiven = write_csv(Path(folder) / "list.csv", headers, [row])
        options = first_options(world.actor, kind_called(kind), given.path, None, Options(decimal="."))
        return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


class ThreeLots(RuleBasedStateMachine):
    """Three lots of one oil beside a plain book of what happened to them."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.world = World()
        self.start, self.told = self.world.now, 0
        self.lots: list[Lot] = []
        self.book = PlainBook()
        # Counts without a difference by their key in the book.
        self.confirmed: dict[int, Count] = {}
        self.brought: set[tuple[int, Decimal, int]] = set()

    @initialize(amounts=st.lists(st.decimals(Decimal("0.1"), Decimal(2000), places=3), min_size=3, max_size=3))
    def receive(self, amounts: list[Decimal]) -> None:
        self.lots = [self.world.lot(str(amount), supplier_lot=f"L{index}") for index, amount in enumerate(amounts[:LISTED])]
        received = self.lots[0].received_on
        outcome = bring(self.world, "stock", STOCK, ("Olive oil", "fat", f"{amounts[LISTED]} g", f"L{LISTED}", received))
        assert outcome.refused_rows == 0, outcome.refusals
        self.lots.append(Lot.objects.within(self.world.workshop).named().get(supplier_lot=f"L{LISTED}"))
        for index, lot in enumerate(self.lots):
            key = lot.movements.get().pk
            self.book.moved[key] = (index, amounts[index], (self.start - timedelta(days=30), 0))
        morning = datetime.combine(self.start.date(), time.min, ZoneInfo(self.world.workshop.time_zone))
        self.listed = key
        self.book.counted[key] = (LISTED, amounts[LISTED], (morning, 0))

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    def position(self, ago: int) -> Position:
        """Return where the next thing stands that happened so many hours ago."""
        self.told += 1
        self.world.now = self.start + timedelta(seconds=self.told)
        return self.start - timedelta(hours=ago), self.told

    def _asked(self, index: int, at: Position) -> dict:
        return {"actor": self.world.actor, "lot": self.lots[index], "moment": at[0], "at": self.world.now}

    def _with(self, index: int, amount: Decimal, at: Position) -> Decimal:
        """Return what a lot would hold with one thing more."""
        book = self.book.copy()
        book.moved[0] = (index, amount, at)
        return book.held(index)

    def _note_use(self, index: int, amount: Decimal, at: Position, used: int, found: Count | None) -> None:
        self.book.moved[used] = (index, -amount, at)
        assert (found.movement.amount if found else 0) == self.book.found(used)

    def _forget(self, key: int) -> int:
        """Take something out of the book, and return of which lot it was."""
        counted = self.book.counted.pop(key, None)
        return (self.book.moved.pop(key, None) or counted)[0]

    @invariant()
    def every_lot_holds_what_came_less_what_went(self) -> None:
        for index, lot in enumerate(self.lots):
            kept = Lot.objects.within(self.world.workshop).get(pk=lot.pk).on_hand
            assert kept == self.book.held(index)

    @invariant()
    def no_lot_ever_held_less_than_nothing(self) -> None:
        for lot in self.lots:
            rows = Movement.objects.within(self.world.workshop).filter(lot=lot).in_order()
            assert min(accumulate(row.amount for row in rows)) >= 0

    @invariant()
    def every_balance_is_what_its_ledger_comes_to(self) -> None:
        assert differences() == []


class Storeroom(ThreeLots):
    """Every verb against the book; what is refused changes nothing."""

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def receive_more(self, index: int, amount: Decimal, ago: int) -> None:
        at = self.position(ago)
        after = self._with(index, amount, at)
        try:
            row = receive_more(amount=amount, **self._asked(index, at))
        except DomainError:
            assert amount == 0 or after > MOST_ON_HAND
            return
        assert amount and after <= MOST_ON_HAND
        self.book.moved[row.pk] = (index, amount, at)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def use(self, index: int, amount: Decimal, ago: int) -> None:
        at = self.position(ago)
        try:
            used = use(amount=amount, **self._asked(index, at))
        except DomainError:
            assert amount == 0
            return
        self._note_use(index, amount, at, used.movement.pk, used.found)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def bring_use(self, index: int, amount: Decimal, ago: int) -> None:
        at, key = self.position(ago), (index, amount.quantize(Decimal("0.001")), ago)
        known = set(Movement.objects.within(self.world.workshop).values_list("pk", flat=True))
        when = timezone.localtime(at[0], ZoneInfo(self.world.workshop.time_zone))
        row = ("olive oil", f"l{index}", f"{amount} g", f"{when:%Y-%m-%d %H:%M:%S}")
        outcome = bring(self.world, "uses", USES, row)
        new = Movement.objects.within(self.world.workshop).exclude(pk__in=known)
        assert outcome.adds_nothing == (key in self.brought or amount == 0)
        assert bool(outcome.refused_rows) == (amount == 0)
        if key in self.brought or amount == 0:
            assert not new.exists()
            return
        self.brought.add(key)
        used = new.get(kind="use").pk
        self._note_use(index, amount, at, used, Count.objects.within(self.world.workshop).filter(for_use=used).first())

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO, verb=st.sampled_from([write_off, give_back]))
    def lose(self, index: int, amount: Decimal, ago: int, verb) -> None:
        at = self.position(ago)
        is_short = self.book.held(index, at) < amount
        try:
            row = verb(amount=amount, reason="rancid", **self._asked(index, at))
        except DomainError:
            assert amount == 0 or is_short
            return
        assert amount and not is_short
        self.book.moved[row.pk] = (index, -amount, at)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def count(self, index: int, amount: Decimal, ago: int) -> None:
        at = self.position(ago)
        expected = self.book.held(index, at)
        book = self.book.copy()
        book.counted[0] = (index, amount, at)
        after = book.held(index)
        try:
            outcome = count(counted=amount, reason="weighed", **self._asked(index, at))
        except DomainError:
            assert after > MOST_ON_HAND
            return
        assert after <= MOST_ON_HAND
        assert outcome.count.expected == expected
        key = outcome.moved.pk if outcome.moved else -1 - self.told
        self.book.counted[key] = (index, amount, at)
        if not outcome.moved:
            self.confirmed[key] = outcome.count

    @rule(index=LOTS, ago=HOURS_AGO)
    def count_as_booked(self, index: int, ago: int) -> None:
        at = self.position(ago)
        booked = self.book.held(index, at)
        if booked > 999999:
            return
        outcome = count(counted=booked, **self._asked(index, at))
        assert (outcome.moved, outcome.count.expected) == (None, booked)
        self.book.counted[-1 - self.told] = (index, booked, at)
        self.confirmed[-1 - self.told] = outcome.count

    @precondition(lambda self: self.book.moved)
    @rule(data=st.data())
    def reverse(self, data) -> None:
        key = data.draw(st.sampled_from(sorted({*self.book.moved, *self.book.counted})))
        self.position(0)
        kept = self.book.copy()
        index = self._forget(key)
        after = self.book.held(index)
        how = {"actor": self.world.actor, "reason": "a slip", "at": self.world.now}
        try:
            if key in self.confirmed:
                take_back_count(count=self.confirmed[key], **how)
            else:
                reverse(movement=Movement.objects.within(self.world.workshop).get(pk=key), **how)
        except DomainError:
            assert after > MOST_ON_HAND
            self.book = kept
            return
        assert after <= MOST_ON_HAND


@pytest.mark.django_db
def test_stock_is_conserved_whatever_happens_to_it() -> None:
    run_state_machine_as_test(
        Storeroom,
        settings=settings(
            max_examples=40, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck), database=None
        ),
    )
