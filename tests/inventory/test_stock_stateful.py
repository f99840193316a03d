"""However stock comes, goes, is counted, taken back and brought in: no gram is lost or made, and none is owed."""

from datetime import datetime, time, timedelta
from decimal import Decimal
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
from inventory.models import MOST_ON_HAND, Lot, Movement
from inventory.services.movements import count, give_back, receive_more, reverse, use, write_off
from tests.flows.bring_in.logs import write_csv
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
USES = ("material", "lot", "amount", "used on")


def bring(world: World, kind: str, headers: tuple[str, ...], row: tuple[Any, ...]) -> Outcome:
    with TemporaryDirectory() as folder:
        given: FileGiven = write_csv(Path(folder) / "list.csv", headers, [row])
        options = first_options(world.actor, kind_called(kind), given.path, None, Options(decimal="."))
        return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


# When something happened, and the how-manieth thing it was that the house was told.
Position = tuple[datetime, int]


class Book:
    """What each verb did. The last count of a lot, as things happened and not as they were told, says what was
    there; what happened after it comes and goes.
    """

    def __init__(self, start: datetime) -> None:
        self.start = start
        # (lot, signed amount, position) of what came and went and is in force, by the movement's key.
        self.moved: dict[int, tuple[int, Decimal, Position]] = {}
        # (lot, what was counted, position); under the correction's key, or under one of its own that no movement has.
        self.counted: dict[int, tuple[int, Decimal, Position]] = {}

    def held(self, index: int, before: Position | None = None) -> Decimal:
        """Return what a lot held, up to a position or by now."""
        until = before or (self.start + timedelta(days=1), 0)
        counts = [(at, counted) for lot, counted, at in self.counted.values() if lot == index and at < until]
        since, there = max(counts, default=(None, Decimal(0)))
        moved = [(amount, at) for lot, amount, at in self.moved.values() if lot == index and at < until]
        return there + sum((amount for amount, at in moved if since is None or at > since), Decimal(0))

    def is_counted_after(self, index: int, at: Position) -> bool:
        return any(lot == index and when > at for lot, _counted, when in self.counted.values())


class Storeroom(RuleBasedStateMachine):
    """Three lots of one oil against a book of what each verb did; what is refused changes nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.world = World()
        self.start, self.told = self.world.now, 0
        self.lots: list[Lot] = []
        self.book = Book(self.start)
        self.found: dict[int, int] = {}
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

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def receive_more(self, index: int, amount: Decimal, ago: int) -> None:
        at = self.position(ago)
        is_over = self.book.held(index) + amount > MOST_ON_HAND and not self.book.is_counted_after(index, at)
        try:
            row = receive_more(amount=amount, **self._asked(index, at))
        except DomainError:
            assert amount == 0 or is_over
            return
        assert amount and not is_over
        self.book.moved[row.pk] = (index, amount, at)

    def _note_use(self, index: int, amount: Decimal, at: Position, used: int, found: int | None) -> None:
        before = self.book.held(index)
        assert (found is not None) == (amount > before and not self.book.is_counted_after(index, at))
        if found is not None:
            self.book.moved[found] = (index, amount - before, at)
            self.found[used] = found
        self.book.moved[used] = (index, -amount, at)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def use(self, index: int, amount: Decimal, ago: int) -> None:
        at = self.position(ago)
        try:
            used = use(amount=amount, **self._asked(index, at))
        except DomainError:
            assert amount == 0
            return
        self._note_use(index, amount, at, used.movement.pk, used.found and used.found.movement_id)

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
        self._note_use(index, amount, at, used, new.filter(count_of__for_use=used).values_list("pk", flat=True).first())

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO, verb=st.sampled_from([write_off, give_back]))
    def lose(self, index: int, amount: Decimal, ago: int, verb) -> None:
        at = self.position(ago)
        is_short = amount > self.book.held(index) and not self.book.is_counted_after(index, at)
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
        after = self.book.held(index) if self.book.is_counted_after(index, at) else self.book.held(index) + amount - expected
        try:
            outcome = count(counted=amount, reason="weighed", **self._asked(index, at))
        except DomainError:
            assert not 0 <= after <= MOST_ON_HAND
            return
        assert 0 <= after <= MOST_ON_HAND
        assert outcome.count.expected == expected
        key = outcome.moved.pk if outcome.moved else -1 - self.told
        self.book.counted[key] = (index, amount, at)

    @precondition(lambda self: self.book.moved)
    @rule(data=st.data())
    def reverse(self, data) -> None:
        key = data.draw(st.sampled_from(sorted({*self.book.moved, *(one for one in self.book.counted if one > 0)})))
        self.position(0)
        kept = dict(self.book.moved), dict(self.book.counted)
        index, _amount, _at = (self.book.moved if key in self.book.moved else self.book.counted).pop(key)
        self.book.moved.pop(self.found.get(key, 0), None)
        if key == self.listed:
            self.book.counted.pop(key)
        after = self.book.held(index)
        movement = Movement.objects.within(self.world.workshop).get(pk=key)
        try:
            reverse(actor=self.world.actor, movement=movement, reason="a slip", at=self.world.now)
        except DomainError:
            assert not 0 <= after <= MOST_ON_HAND
            self.book.moved, self.book.counted = kept
            return
        assert 0 <= after <= MOST_ON_HAND

    @invariant()
    def every_lot_holds_what_came_less_what_went(self) -> None:
        for index, lot in enumerate(self.lots):
            kept = Lot.objects.within(self.world.workshop).get(pk=lot.pk).on_hand
            assert kept == self.book.held(index) >= 0

    @invariant()
    def every_balance_is_what_its_ledger_comes_to(self) -> None:
        assert differences() == []


@pytest.mark.django_db
def test_stock_is_conserved_whatever_happens_to_it() -> None:
    run_state_machine_as_test(
        Storeroom,
        settings=settings(
            max_examples=40, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck), database=None
        ),
    )
