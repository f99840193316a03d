"""However an order is sent, comes in, is called off, used up, counted and taken back: no pack and no gram is lost."""

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule, run_state_machine_as_test

from curehouse.common.errors import DomainError
from curehouse.flows.orders import call_off, send_order
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.stock import count, reverse
from inventory.balance import differences
from inventory.models import Lot, Movement, Order, OrderLine
from inventory.services.movements import use
from inventory.services.orders import lines_of, write_order
from tests.world import World

LINES = st.integers(0, 1)
PACKS = st.integers(0, 4)
PACK_G = (Decimal(1000), Decimal(250))


@dataclass
class PlainOrder:
    """An order on paper: what was asked for, and a list of what became of it."""

    asked: list[int]
    is_sent: bool = False
    # By the key of the lot: (line, packs).
    came: dict[int, tuple[int, int]] = field(default_factory=dict)
    ended: list[int] = field(default_factory=lambda: [0, 0])

    def here(self, line: int) -> int:
        return sum(packs for of, packs in self.came.values() if of == line)

    def open(self, line: int) -> int:
        return max(self.asked[line] - self.here(line) - self.ended[line], 0)

    @property
    def state(self) -> str:
        is_open = any(self.open(line) for line in (0, 1))
        if self.came:
            return "partly in" if is_open else "in"
        if not is_open:
            return "called off"
        return "sent" if self.is_sent else "written"


class Ordering(RuleBasedStateMachine):
    """One order of two materials beside one on paper."""

    def __init__(self) -> None:
        super().__init__()
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.world = World()
        self.start = self.world.now
        self.told = 0
        self.held: dict[int, Decimal] = {}

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undo.__exit__(None, None, None)

    @initialize(asked=st.tuples(st.integers(1, 6), st.integers(1, 6)))
    def write(self, asked: tuple[int, int]) -> None:
        oil = self.world.offer()
        lye = self.world.offer(material=self.world.material("Lye", kind="lye"), pack=PACK_G[1])
        packs = {oil.pk: asked[0], lye.pk: asked[1]}
        self.order = write_order(actor=self.world.actor, supplier=oil.supplier, packs=packs, at=self.start)
        found = {line.offer_id: line.pk for line in lines_of(self.order)}
        self.lines = [found[oil.pk], found[lye.pk]]
        self.paper = PlainOrder(list(asked))

    def common(self) -> dict:
        """Return what every verb is told; the house hears of each thing a second later."""
        self.told += 1
        self.world.now = self.start + timedelta(seconds=self.told)
        return {"actor": self.world.actor, "at": self.world.now}

    @rule()
    def send(self) -> None:
        was = self.paper.state
        try:
            send_order(order=self.order, sent_on=self.start.date(), **self.common())
        except DomainError:
            assert was != "written"
            return
        assert was == "written"
        self.paper.is_sent = True

    @rule(line=LINES, lots=st.lists(st.integers(1, 4), max_size=2), refused=PACKS, ends=st.booleans())
    def receive(self, line: int, lots: list[int], refused: int, ends: bool) -> None:
        came = LineCame(
            self.lines[line], [LotCame(packs) for packs in lots], refused, "torn" if refused else "", ends_rest=ends,
            rest_why="sold out",
        )  # fmt: skip
        try:
            found = receive_order(order=self.order, received_on=self.start.date(), came=[came], **self.common())
        except DomainError:
            assert not self.paper.is_sent or not (lots or refused)
            return
        assert self.paper.is_sent
        if ends:
            self.paper.ended[line] += max(self.paper.open(line) - sum(lots), 0)
        for lot, packs in zip(found.lots, lots, strict=True):
            self.paper.came[lot.pk] = (line, packs)
            self.held[lot.pk] = packs * PACK_G[line]

    @rule(line=st.sampled_from([None, 0, 1]))
    def call_off(self, line: int | None) -> None:
        lines = (0, 1) if line is None else (line,)
        # Of what is only written all is called off, or it is changed.
        is_open = any(self.paper.open(one) for one in lines) and (line is None or self.paper.state != "written")
        chosen = None if line is None else [self.lines[line]]
        try:
            call_off(order=self.order, why="too late", lines=chosen, **self.common())
        except DomainError:
            assert not is_open
            return
        assert is_open
        for one in lines:
            self.paper.ended[one] += self.paper.open(one)

    @precondition(lambda self: self.held)
    @rule(data=st.data(), grams=st.integers(1, 3000))
    def use_some(self, data: st.DataObject, grams: int) -> None:
        lot = self.lot(data)
        use(lot=lot, amount=Decimal(grams), moment=self.world.now, reason="in quarantine still", **self.common())
        # What was not booked was found at the pour.
        self.held[lot.pk] = max(self.held[lot.pk] - grams, Decimal(0))

    @precondition(lambda self: self.held)
    @rule(data=st.data(), grams=st.integers(0, 3000))
    def count_some(self, data: st.DataObject, grams: int) -> None:
        lot, common = self.lot(data), self.common()
        count(lot=lot, counted=Decimal(grams), moment=self.world.now, reason="weighed", **common)
        self.held[lot.pk] = Decimal(grams)

    @precondition(lambda self: self.paper.came)
    @rule(data=st.data())
    def never_came(self, data: st.DataObject) -> None:
        key = data.draw(st.sampled_from(sorted(self.paper.came)))
        moved = Movement.objects.within(self.world.workshop).select_related("lot").filter(lot=key, kind="receive").get()
        before = Lot.objects.within(self.world.workshop).get(pk=key).on_hand
        reverse(movement=moved, reason="another house's", **self.common())
        del self.paper.came[key]
        # Its packs are owed again; what was counted or used of it since was there all the same.
        kept = Lot.objects.within(self.world.workshop).get(pk=key).on_hand
        assert 0 <= kept <= max(before, Decimal(3000))
        del self.held[key]

    def lot(self, data: st.DataObject) -> Lot:
        return Lot.objects.within(self.world.workshop).named().get(pk=data.draw(st.sampled_from(sorted(self.held))))

    @invariant()
    def the_order_is_as_on_paper(self) -> None:
        if not hasattr(self, "order"):
            return
        assert Order.objects.within(self.world.workshop).get().get_state_display() == self.paper.state
        found = {line.pk: line for line in lines_of(self.order)}
        for line, key in enumerate(self.lines):
            assert (found[key].came, found[key].open_packs) == (self.paper.here(line), self.paper.open(line))

    @invariant()
    def what_is_on_its_way_is_what_is_open(self) -> None:
        if not hasattr(self, "order"):
            return
        arrivals = OrderLine.objects.within(self.world.workshop).arrivals(on=self.start.date())
        told = {one.line.pk: one.amount for one in arrivals}
        owed = {
            key: self.paper.open(line) * PACK_G[line]
            for line, key in enumerate(self.lines)
            if self.paper.open(line) and self.paper.state in ("sent", "partly in")
        }
        assert told == owed

    @invariant()
    def every_lot_holds_what_came_less_what_went(self) -> None:
        lots = Lot.objects.within(self.world.workshop).filter(pk__in=self.held).values_list("pk", "on_hand")
        assert dict(lots) == self.held
        assert differences() == []


@pytest.mark.django_db
def test_no_pack_is_lost_whatever_becomes_of_an_order() -> None:
    run_state_machine_as_test(
        Ordering,
        settings=settings(
            max_examples=15, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck), database=None
        ),
    )
