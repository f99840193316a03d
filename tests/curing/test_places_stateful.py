"""However bars are placed, moved and taken out: never over capacity, and no bar is lost or made."""

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from curehouse.common.errors import DomainError
from curehouse.curing.balance import differences
from curehouse.curing.models import Occupancy, Position
from curehouse.curing.services.places import bars_without_place, move, place, turn
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from tests.world import World

BATCHES = st.integers(0, 2)
PLACES = st.integers(0, 3)
BARS = st.integers(0, 30)
WHEN_FULL = st.sampled_from(["refuse", "raise", "elsewhere"])


class House(RuleBasedStateMachine):
    """Three batches of 24 bars and four positions of 15; what is refused changes nothing."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.world = World()
        rack = self.world.rack(levels=2, places=2, capacity=15)
        self.positions = list(Position.objects.within(self.world.workshop).filter(rack=rack).order_by("pk"))
        self.batches = [self.world.batch() for _ in range(3)]
        self.gone = [0, 0, 0]

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    def attempt(self, verb, **asked) -> bool:
        try:
            verb(actor=self.world.actor, at=self.world.now, **asked)
        except DomainError:
            return False
        return True

    @rule(batch=BATCHES, to=PLACES, bars=BARS, when_full=WHEN_FULL)
    def place(self, batch: int, to: int, bars: int, when_full: str) -> None:
        loose = bars_without_place(self._fresh(batch))
        done = self.attempt(
            place, batch=self.batches[batch], position=self.positions[to], bars=bars, when_full=when_full,
            moved_at=self.world.now,
        )  # fmt: skip
        if done and when_full != "elsewhere":
            assert bars_without_place(self._fresh(batch)) == loose - bars

    @rule(batch=BATCHES, origin=PLACES, to=PLACES, bars=BARS, when_full=WHEN_FULL)
    def move(self, batch: int, origin: int, to: int, bars: int, when_full: str) -> None:
        loose = bars_without_place(self._fresh(batch))
        self.attempt(
            move, batch=self.batches[batch], origin=self.positions[origin], target=self.positions[to],
            bars=bars, when_full=when_full, moved_at=self.world.now,
        )  # fmt: skip
        assert bars_without_place(self._fresh(batch)) == loose

    @rule(batch=BATCHES, where=PLACES)
    def turn(self, batch: int, where: int) -> None:
        self.attempt(turn, batch=self.batches[batch], position=self.positions[where], moved_at=self.world.now)

    @rule(batch=BATCHES, bars=BARS)
    def take_out(self, batch: int, bars: int) -> None:
        entry = TakeOutEntry(bars=bars, purpose="gift", taken_at=self.world.now, forced_reason="a fair")
        if self.attempt(take_out, batch=self.batches[batch], entry=entry):
            self.gone[batch] += bars

    @invariant()
    def no_position_holds_more_than_it_can(self) -> None:
        assert all(row.bars_held <= row.capacity_bars for row in Position.objects.within(self.world.workshop))

    @invariant()
    def no_bar_is_lost_or_made(self) -> None:
        for index in range(3):
            batch = self._fresh(index)
            stand = sum(Occupancy.objects.within(self.world.workshop).filter(batch=batch).values_list("bars", flat=True))
            assert batch.bars_left + self.gone[index] == 24
            assert 0 <= stand <= batch.bars_left

    @invariant()
    def every_count_is_what_its_ledger_comes_to(self) -> None:
        assert differences() == []

    def _fresh(self, index: int) -> Batch:
        return Batch.objects.within(self.world.workshop).get(pk=self.batches[index].pk)


@pytest.mark.django_db
def test_bars_are_conserved_whatever_happens_to_them() -> None:
    run_state_machine_as_test(
        House,
        settings=settings(
            max_examples=15, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck), database=None
        ),
    )
