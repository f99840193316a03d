"""However stock comes, goes, is counted and taken back: no gram is lost or made, and none is owed."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule, run_state_machine_as_test

from curehouse.common.errors import DomainError
from inventory.balance import differences
from inventory.models import Lot, Movement
from inventory.services.movements import count, give_back, receive_more, reverse, use, write_off
from tests.world import World

LOTS = st.integers(0, 2)
# Tenths and milligrams: what floats add badly; tonnes: what they lose milligrams in.
AMOUNTS = st.one_of(
    st.decimals(Decimal(0), Decimal(3), places=1),
    st.decimals(Decimal(0), Decimal(900), places=3),
    st.decimals(Decimal(999990), Decimal(999999), places=3),
)
HOURS_AGO = st.integers(0, 72)


class Storeroom(RuleBasedStateMachine):
    """Three lots of one oil against a list of what each verb did; what is refused changes nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.world = World()
        self.lots: list[Lot] = []
        # (lot, signed amount, moment) of everything in force; a movement's key leads to its entries.
        self.book: dict[int, tuple[int, Decimal, int]] = {}
        self.found: dict[int, int] = {}

    @initialize(amounts=st.lists(st.decimals(Decimal("0.1"), Decimal(2000), places=3), min_size=3, max_size=3))
    def receive(self, amounts: list[Decimal]) -> None:
        self.lots = [self.world.lot(str(amount)) for amount in amounts]
        for index, lot in enumerate(self.lots):
            self.book[lot.movements.get().pk] = (index, amounts[index], 10**6)

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    def held(self, index: int, *, up_to: int = 0) -> Decimal:
        return sum((amount for lot, amount, ago in self.book.values() if lot == index and ago >= up_to), Decimal(0))

    def _asked(self, index: int, ago: int) -> dict:
        moment = self.world.now - timedelta(hours=ago)
        return {"actor": self.world.actor, "lot": self.lots[index], "moment": moment, "at": self.world.now}

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def receive_more(self, index: int, amount: Decimal, ago: int) -> None:
        try:
            row = receive_more(amount=amount, **self._asked(index, ago))
        except DomainError:
            assert amount == 0 or self.held(index) + amount > 9_999_999
            return
        self.book[row.pk] = (index, amount, ago)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def use(self, index: int, amount: Decimal, ago: int) -> None:
        before = self.held(index)
        try:
            used = use(amount=amount, **self._asked(index, ago))
        except DomainError:
            assert amount == 0
            return
        assert (used.found is not None) == (amount > before)
        if used.found is not None:
            self.book[used.found.movement_id] = (index, amount - before, ago)
            self.found[used.movement.pk] = used.found.movement_id
        self.book[used.movement.pk] = (index, -amount, ago)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO, verb=st.sampled_from([write_off, give_back]))
    def lose(self, index: int, amount: Decimal, ago: int, verb) -> None:
        try:
            row = verb(amount=amount, reason="rancid", **self._asked(index, ago))
        except DomainError:
            assert amount == 0 or amount > self.held(index)
            return
        self.book[row.pk] = (index, -amount, ago)

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def count(self, index: int, amount: Decimal, ago: int) -> None:
        expected = self.held(index, up_to=ago)
        fits = 0 <= self.held(index) + amount - expected <= 9_999_999
        try:
            outcome = count(counted=amount, reason="weighed", **self._asked(index, ago))
        except DomainError:
            assert not fits
            return
        assert outcome.count.expected == expected
        if outcome.moved is not None:
            self.book[outcome.moved.pk] = (index, amount - expected, ago)

    @precondition(lambda self: self.book)
    @rule(data=st.data())
    def reverse(self, data) -> None:
        key = data.draw(st.sampled_from(sorted(self.book)))
        index, amount, _ago = self.book[key]
        movement = Movement.objects.within(self.world.workshop).get(pk=key)
        try:
            reverse(actor=self.world.actor, movement=movement, reason="a slip", at=self.world.now)
        except DomainError:
            assert self.held(index) < amount or self.held(index) - amount > 9_999_999
            return
        del self.book[key]
        self.book.pop(self.found.pop(key, 0), None)

    @invariant()
    def every_lot_holds_what_came_less_what_went(self) -> None:
        for index, lot in enumerate(self.lots):
            kept = Lot.objects.within(self.world.workshop).get(pk=lot.pk).on_hand
            assert kept == self.held(index) >= 0

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
