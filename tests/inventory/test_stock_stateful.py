"""However stock comes, goes, is counted, taken back and brought in: no gram is lost or made, and none is owed."""

from datetime import timedelta
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
from inventory.models import Lot, Movement
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
# The lot that came in with a stock list; its amount lacks what was used before.
LISTED = 2
LONG_AGO = 10**6
STOCK = ("material", "kind", "amount", "lot", "received")
USES = ("material", "lot", "amount", "used on")


def bring(world: World, kind: str, headers: tuple[str, ...], row: tuple[Any, ...]) -> Outcome:
    with TemporaryDirectory() as folder:
        given: FileGiven = write_csv(Path(folder) / "list.csv", headers, [row])
        options = first_options(world.actor, kind_called(kind), given.path, None, Options(decimal="."))
        return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


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
        self.brought: set[tuple[int, Decimal, int]] = set()

    @initialize(amounts=st.lists(st.decimals(Decimal("0.1"), Decimal(2000), places=3), min_size=3, max_size=3))
    def receive(self, amounts: list[Decimal]) -> None:
        self.lots = [self.world.lot(str(amount), supplier_lot=f"L{index}") for index, amount in enumerate(amounts[:LISTED])]
        received = self.lots[0].received_on
        outcome = bring(self.world, "stock", STOCK, ("Olive oil", "fat", f"{amounts[LISTED]} g", f"L{LISTED}", received))
        assert outcome.refused_rows == 0, outcome.refusals
        self.lots.append(Lot.objects.within(self.world.workshop).named().get(supplier_lot=f"L{LISTED}"))
        for index, lot in enumerate(self.lots):
            self.book[lot.movements.get().pk] = (index, amounts[index], LONG_AGO)

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

    @rule(index=LOTS, amount=AMOUNTS, ago=HOURS_AGO)
    def bring_use(self, index: int, amount: Decimal, ago: int) -> None:
        before, key = self.held(index), (index, amount.quantize(Decimal("0.001")), ago)
        known = set(Movement.objects.within(self.world.workshop).values_list("pk", flat=True))
        when = timezone.localtime(self.world.now - timedelta(hours=ago), ZoneInfo(self.world.workshop.time_zone))
        row = ("olive oil", f"l{index}", f"{amount} g", f"{when:%Y-%m-%d %H:%M:%S}")
        outcome = bring(self.world, "uses", USES, row)
        rows = Movement.objects.within(self.world.workshop).exclude(pk__in=known).order_by("pk")
        new = {row.kind: row for row in rows}
        assert outcome.adds_nothing == (key in self.brought or amount == 0)
        assert bool(outcome.refused_rows) == (amount == 0)
        if key in self.brought or amount == 0:
            assert not new
            return
        self.brought.add(key)
        self.book[new["use"].pk] = (index, -amount, ago)
        if index == LISTED and ago:
            self.book[new["receive"].pk] = (index, amount, LONG_AGO)
        elif amount > before:
            self.book[new["count"].pk] = (index, amount - before, ago)
            self.found[new["use"].pk] = new["count"].pk

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
