"""Orders: written together with a supplier, sent on a day, called off with a reason; every step is kept."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.errors import Conflict, Invalid, NotHere
from inventory.balance import differences
from inventory.models import Offer, Order, OrderLine, OrderStep
from inventory.order_state import Packs, State, state_of
from inventory.services.offers import TermsEntry, end_offer, write_terms
from inventory.services.orders import call_off, lines_of, promise, send_order, write_order
from inventory.services.things import retire_supplier
from tests.world import World

pytestmark = pytest.mark.django_db


def write(world: World, packs: dict[Offer, int], **how: Any) -> Order:
    offer = next(iter(packs))
    wanted = {one.pk: many for one, many in packs.items()}
    return write_order(actor=world.actor, supplier=offer.supplier, packs=wanted, at=world.now, **how)


def send(world: World, order: Order, *, days_ago: int = 0, **how: Any) -> Order:
    return send_order(actor=world.actor, order=order, sent_on=world.days_ago(days_ago).date(), at=world.now, **how)


def packs_of(order: Order) -> dict[str, int]:
    return {line.material.name: line.packs for line in lines_of(order)}


def steps_of(order: Order) -> list[str]:
    return [step.kind for step in OrderStep.objects.within(order.workshop).filter(order=order).in_order()]


def test_a_written_order_is_added_to_and_keeps_what_was_done(world: World) -> None:
    oil, box = world.offer(), world.offer(material=world.material("Boxes", kind="packaging"), pack=Decimal(500))
    order = write(world, {oil: 2})
    assert write(world, {box: 1}) == order
    assert write(world, {oil: 3}, adds=True) == order
    assert packs_of(order) == {"Boxes": 1, "Olive oil": 5}
    write(world, {oil: 0})
    assert packs_of(order) == {"Boxes": 1}
    said = list(OrderStep.objects.within(world.workshop).in_order().values_list("kind", "said"))
    assert said == [
        ("written", "Olive oil: 2 × 1000 g"), ("changed", "Boxes: 1 × 500 pieces"), ("changed", "Olive oil: 5 × 1000 g"),
        ("changed", "Olive oil: none"),
    ]  # fmt: skip


def test_an_order_that_changes_nothing_keeps_no_step(world: World) -> None:
    oil = world.offer()
    write(world, {oil: 2})
    assert steps_of(write(world, {oil: 2})) == ["written"]


def test_a_line_has_the_offers_terms_as_they_were(world: World) -> None:
    oil = world.offer(breaks=[(4, Decimal("7.20"))], shelf_days=300, lead_days=4, is_hazardous=True)
    order = write(world, {oil: 4})
    end_offer(actor=world.actor, offer=oil, at=world.now)
    (line,) = lines_of(order)
    assert (line.packs, line.pack, line.price, line.shelf_days, line.lead_days) == (4, 1000, Decimal("7.20"), 300, 4)
    with pytest.raises(Conflict) as refused:
        write(world, {oil: 5})
    assert refused.value.code == "ended"


@pytest.mark.parametrize(("packs", "code"), [(1, "min_packs"), (-1, "packs"), (10_000, "packs"), (0, "nothing_ordered")])
def test_packs_that_cannot_be_ordered_are_answered_in_words(world: World, packs: int, code: str) -> None:
    oil = world.offer(min_packs=2)
    with pytest.raises(Invalid) as refused:
        write(world, {oil: packs})
    assert refused.value.code == code
    assert not Order.objects.within(world.workshop).exists()


def test_nothing_is_ordered_from_whom_nothing_is_bought_any_more(world: World) -> None:
    oil = world.offer()
    retire_supplier(supplier=oil.supplier, at=world.now)
    with pytest.raises(Conflict):
        write(world, {oil: 1})


def test_a_strangers_offer_or_order_is_not_here(world: World, stranger: World) -> None:
    theirs, mine = stranger.offer(), world.offer()
    with pytest.raises(NotHere):
        write(world, {theirs: 1})
    with pytest.raises(NotHere):
        write_order(actor=world.actor, supplier=mine.supplier, packs={theirs.pk: 1}, at=world.now)
    order = write(stranger, {theirs: 1})
    for verb in (
        lambda: send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now),
        lambda: call_off(actor=world.actor, order=order, why="a slip", at=world.now),
    ):
        with pytest.raises(NotHere):
            verb()


def test_sent_an_order_keeps_what_the_supplier_asks_and_when_it_is_expected(world: World) -> None:
    oil, lye = world.offer(), world.offer(material=world.material("Lye", kind="lye"), lead_days=3)
    terms = TermsEntry(Decimal(9), Decimal(200), Decimal(15), 6)
    write_terms(actor=world.actor, supplier=oil.supplier, terms=terms)
    order = send(world, write(world, {oil: 1, lye: 1}), days_ago=2)
    write_terms(actor=world.actor, supplier=oil.supplier, terms=TermsEntry())
    order.refresh_from_db()
    assert (order.state, order.freight, order.free_freight_from, order.hazard_surcharge) == ("sent", 9, 200, 15)
    sent = world.days_ago(2).date()
    assert {line.material.name: line.expected_on - sent for line in lines_of(order)} == {
        "Lye": timedelta(days=3), "Olive oil": timedelta(days=6),
    }  # fmt: skip
    assert steps_of(order) == ["written", "sent"]
    # Once it is sent, what is written next is another order.
    assert write(world, {oil: 1}).number == order.number + 1


def test_nobody_says_how_long_it_takes_and_no_day_is_made_up(world: World) -> None:
    send(world, write(world, {world.offer(): 1}))
    (arrival,) = OrderLine.objects.within(world.workshop).arrivals(on=world.now.date())
    assert (arrival.likely_on, arrival.safe_on, arrival.is_late) == (None, None, False)


@pytest.mark.parametrize(
    ("sent", "promised", "field"),
    [(-1, None, "sent_on"), (800, None, "sent_on"), (0, 1, "promised_on"), (0, -800, "promised_on")],
)
def test_a_day_that_cannot_be_right_is_answered_in_words(world: World, sent: int, promised: int | None, field: str) -> None:
    order = write(world, {world.offer(): 1})
    with pytest.raises(Invalid) as refused:
        send(world, order, days_ago=sent, promised_on=None if promised is None else world.days_ago(promised).date())
    assert refused.value.field == field


def test_what_is_sent_is_not_sent_again_and_what_is_not_is_not_promised(world: World) -> None:
    order = write(world, {world.offer(): 1})
    with pytest.raises(Conflict) as refused:
        promise(actor=world.actor, order=order, promised_on=date(2026, 4, 1), at=world.now)
    assert refused.value.code == "not_on_the_way"
    send(world, order)
    with pytest.raises(Conflict) as refused:
        send(world, order)
    assert refused.value.code == "not_written"


def test_another_day_that_the_supplier_names_is_the_day_expected(world: World) -> None:
    oil = world.offer(lead_days=4, shelf_days=100)
    order = send(world, write(world, {oil: 2}), days_ago=9)
    lines = OrderLine.objects.within(world.workshop)
    (late,) = lines.arrivals(on=world.now.date())
    assert (late.is_late, late.expected_on) == (True, world.days_ago(5).date())
    named = world.days_ago(-3).date()
    promise(actor=world.actor, order=order, promised_on=named, why="the ship is late", at=world.now)
    (one,) = lines.arrivals(on=world.now.date())
    assert (one.is_late, one.likely_on, one.amount) == (False, named, 2000)
    assert one.best_before == named + timedelta(days=100)


def test_called_off_an_order_says_why_and_ends(world: World) -> None:
    oil = world.offer()
    order = send(world, write(world, {oil: 2}))
    with pytest.raises(Invalid) as refused:
        call_off(actor=world.actor, order=order, why=" ", at=world.now)
    assert refused.value.field == "why"
    order = call_off(actor=world.actor, order=order, why="they closed", at=world.now)
    assert (order.state, steps_of(order)) == ("called_off", ["written", "sent", "called_off"])
    with pytest.raises(Conflict) as gone:
        call_off(actor=world.actor, order=order, why="again", at=world.now)
    assert gone.value.code == "nothing_open"
    assert differences() == []


def test_a_line_is_called_off_by_itself(world: World) -> None:
    oil, lye = world.offer(), world.offer(material=world.material("Lye", kind="lye"))
    order = send(world, write(world, {oil: 2, lye: 1}))
    first, second = lines_of(order)
    assert call_off(actor=world.actor, order=order, why="sold out", at=world.now, lines=[first.pk]).state == "sent"
    assert call_off(actor=world.actor, order=order, why="sold out", at=world.now, lines=[second.pk]).state == "called_off"
    with pytest.raises(NotHere):
        call_off(actor=world.actor, order=order, why="sold out", at=world.now, lines=[987654])


def test_a_line_of_what_is_only_written_is_changed_and_not_called_off(world: World) -> None:
    oil, lye = world.offer(), world.offer(material=world.material("Lye", kind="lye"))
    order = write(world, {oil: 5, lye: 2})
    (oils,) = [line.pk for line in lines_of(order) if line.offer_id == oil.pk]
    with pytest.raises(Conflict, match="is written: change how many packs it asks for, or call all of it off") as refused:
        call_off(actor=world.actor, order=order, why="sold out", at=world.now, lines=[oils])
    assert refused.value.field == "lines"
    write(world, {oil: 0})
    assert packs_of(order) == {"Lye": 2}


def test_what_is_written_is_called_off_too_and_a_new_one_can_be_written(world: World) -> None:
    oil = world.offer()
    order = call_off(actor=world.actor, order=write(world, {oil: 2}), why="too early", at=world.now)
    assert (order.state, order.sent_on) == ("called_off", None)
    assert write(world, {oil: 1}) != order


def test_the_database_lets_one_order_be_written_with_a_supplier(world: World) -> None:
    order = write(world, {world.offer(): 1})
    with pytest.raises(IntegrityError), transaction.atomic():
        Order.unscoped.create(workshop=world.workshop, supplier=order.supplier, number=99, written_at=world.now)
    with pytest.raises(IntegrityError), transaction.atomic():
        Order.unscoped.filter(pk=order.pk).update(state="sent")


def test_a_state_that_the_steps_do_not_bear_out_is_found(world: World) -> None:
    order = send(world, write(world, {world.offer(): 1}))
    Order.unscoped.filter(pk=order.pk).update(state="in")
    (found,) = differences()
    assert (found.what, found.kept, found.reckoned) == (f"state of order {order.pk}", "in", "sent")


@given(
    st.booleans(), st.lists(st.builds(Packs, st.integers(1, 9), st.integers(0, 12), st.integers(0, 9)), min_size=1, max_size=4)
)
def test_a_state_says_whether_anything_came_and_is_still_to_come(is_sent: bool, lines: list[Packs]) -> None:
    state = state_of(is_sent=is_sent, lines=lines)
    came, is_open = any(one.came for one in lines), any(one.came + one.ended < one.asked for one in lines)
    assert (state in (State.IN, State.PARTLY_IN)) == came
    assert (state in (State.IN, State.CALLED_OFF)) == (not is_open)
    assert (state is State.WRITTEN) == (not is_sent and not came and is_open)
