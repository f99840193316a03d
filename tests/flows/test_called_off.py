"""What a person called off is not proposed for a while, and everybody is told so; what is put off comes off its order."""

from datetime import timedelta
from types import SimpleNamespace

import pytest

from curehouse.flows.orders import call_off
from curehouse.flows.propose import propose, propose_now, want_again
from curehouse.flows.take_off import end_offer, put_off, retire_material
from curehouse.workshops.actors import the_house
from inventory.models import Lot, Material, Offer, Order, OrderLine, Proposal
from inventory.services.orders import call_off as call_off_alone
from inventory.services.orders import write_order
from inventory.to_order import not_now
from tests.api.device import Device
from tests.used import used
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
SAID = "not before Tue 17 Mar: Order 1, Brook Mill was called off (Another mill)"


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    monkeypatch.setattr("api.views.timezone", SimpleNamespace(now=lambda: world.now))
    return Visitor(world)


@pytest.fixture
def oil(world: World) -> Offer:
    return used(world)


def call_oil_off(world: World, *, days: int = 0) -> Order:
    at = world.now + timedelta(days=days)
    (order,) = propose_now(actor=world.actor, at=at)
    return call_off(actor=world.actor, order=order, why="Another mill", at=at)


def packs_of(order: Order) -> set[str]:
    return set(OrderLine.objects.within(order.workshop).filter(order=order).values_list("material__name", flat=True))


def test_what_was_called_off_is_said_to_be_put_off_wherever_ordering_is_told(
    world: World, visitor: Visitor, oil: Offer
) -> None:
    order = call_oil_off(world)
    assert f"{SAID} 300 g ↷ put off" in visitor.words("storeroom")
    assert f"1 put off Olive oil {SAID}" in visitor.words("today")
    assert f"Put off, {SAID}." in visitor.words("material", oil.material_id)
    assert f"Put off Olive oil {SAID}" in visitor.words("orders")
    (row,) = Device(world).rows("stock/")
    assert row["put_off"] == {
        "until": "2026-03-17", "why": "Order 1, Brook Mill was called off (Another mill)", "order": order.pk
    }  # fmt: skip
    visitor.post("orders_propose")
    assert f"Nothing needs to be ordered now. Left out, for it is put off: Olive oil, {SAID}." in visitor.words("orders")


def test_before_it_is_called_off_the_page_says_how_long_it_will_be_quiet(world: World, visitor: Visitor, oil: Offer) -> None:
    (order,) = propose_now(actor=world.actor, at=world.now)
    assert "what is on it is not proposed again before Tue 17 Mar" in visitor.words("order_call_off", order.pk)


@pytest.mark.parametrize(("days", "is_quiet"), [(6, True), (7, False)])
def test_it_is_quiet_for_seven_days_and_said_so_just_as_long(world: World, oil: Offer, days: int, is_quiet: bool) -> None:
    call_oil_off(world)
    later = world.now + timedelta(days=days)
    assert bool(not_now(workshop=world.workshop, on=later.date())) is is_quiet
    assert bool(propose(workshop=world.workshop, at=later)) is not is_quiet


def test_what_the_house_calls_off_itself_is_not_put_off(world: World, oil: Offer) -> None:
    (order,) = propose(workshop=world.workshop, at=world.now)
    call_off_alone(actor=the_house(world.workshop), order=order, why="Nothing of it is needed now.", at=world.now)
    assert not_now(workshop=world.workshop, on=world.now.date()) == {}


def test_what_was_said_last_counts_but_calling_off_brings_nothing_forward(world: World, oil: Offer) -> None:
    call_oil_off(world)
    later, today = world.now + timedelta(hours=1), world.now.date()
    for days in (2, 40):
        put_off(actor=world.actor, material=oil.material, until=today + timedelta(days=days), why="No room.", at=later)
        assert not_now(workshop=world.workshop, on=today)[oil.material_id].until == today + timedelta(days=days)
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 1}, at=later)
    call_off(actor=world.actor, order=mine, why="Too soon", at=later + timedelta(hours=1))
    kept = not_now(workshop=world.workshop, on=today)[oil.material_id]
    assert (kept.until, kept.why) == (today + timedelta(days=40), "No room.")


@pytest.mark.parametrize("how", ["put off", "called off"])
def test_what_is_wanted_again_the_same_day_is_on_an_order_at_once(world: World, visitor: Visitor, oil: Offer, how: str) -> None:
    if how == "put off":
        until = world.now.date() + timedelta(days=9)
        put_off(actor=world.actor, material=oil.material, until=until, why="No room.", at=world.now)
    else:
        call_oil_off(world)
    assert propose(workshop=world.workshop, at=world.now) == []
    assert "Want it again now" in visitor.words("material", oil.material_id)
    visitor.post("material_wanted", oil.material_id)
    words = visitor.words("material", oil.material_id)
    assert "Olive oil is not put off any more: Order" in words
    assert "decide today" in words
    assert "Want it again now" not in words
    (order,) = Order.objects.within(world.workshop).written()
    assert packs_of(order) == {"Olive oil"}


def test_what_is_wanted_again_and_called_off_once_more_is_quiet_once_more(world: World, oil: Offer) -> None:
    call_oil_off(world)
    at = world.now + timedelta(hours=1)
    _noted, found = want_again(actor=world.actor, material=oil.material, at=at)
    assert found is not None
    call_off(actor=world.actor, order=found.order, why="No, after all", at=at + timedelta(hours=1))
    assert "No, after all" in not_now(workshop=world.workshop, on=world.now.date())[oil.material_id].why


def test_of_what_there_is_enough_it_says_so(world: World, visitor: Visitor) -> None:
    much = used(world, left="30000")
    until = world.now.date() + timedelta(days=9)
    put_off(actor=world.actor, material=much.material, until=until, why="No room.", at=world.now)
    visitor.post("material_wanted", much.material_id)
    assert "is not put off any more: nothing of it needs to be ordered now." in visitor.words("material", much.material_id)
    again = visitor.post("material_wanted", much.material_id)
    assert again.status_code == 409


def due_and_company(world: World) -> tuple[Offer, Offer, Order]:
    """Return olive oil that is due, coconut oil of the same mill whose line is set to come along only, and their order."""
    oil, coconut = used(world), used(world, "Coconut oil", left="100")
    (order,) = propose_now(actor=world.actor, at=world.now)
    kept = Proposal.objects.within(world.workshop).get(order=order)
    lines = []
    for line in kept.lines:
        is_due = line["material"] == oil.material_id
        why = {**line["why"], "last_day": 9 if is_due else 2}
        lines.append({**line, "because": "due" if is_due else "freight", "why": why})
    Proposal.unscoped.filter(pk=kept.pk).update(lines=lines)
    return oil, coconut, order


def test_what_comes_along_for_freight_sets_no_day_once_another_is_put_off(world: World) -> None:
    _oil, _coconut, order = due_and_company(world)
    shea = used(world, "Shea butter", left="100")
    kept = Proposal.objects.within(world.workshop).get(order=order)
    more = {**kept.lines[0], "material": shea.material_id, "offer": shea.pk, "because": "joins"}
    Proposal.unscoped.filter(pk=kept.pk).update(lines=[*kept.lines, more])
    put_off(
        actor=world.actor, material=shea.material, until=world.now.date() + timedelta(days=9), why="Enough.", at=world.now
    )  # fmt: skip
    kept.refresh_from_db()
    assert len(kept.lines) == 2
    assert kept.decide_by == kept.day + timedelta(days=9)


def test_an_order_on_which_only_company_is_left_is_called_off(world: World) -> None:
    oil, _coconut, order = due_and_company(world)
    until = world.now.date() + timedelta(days=9)
    put_off(actor=world.actor, material=oil.material, until=until, why="Enough.", at=world.now)
    order.refresh_from_db()
    assert order.state == "called_off"
    assert order.steps.order_by("pk").last().said == "Olive oil is not wanted now, and the rest only came along with it."
    assert oil.material_id in not_now(workshop=world.workshop, on=world.now.date())
    assert len(not_now(workshop=world.workshop, on=world.now.date())) == 1, "company may be proposed again tomorrow"


@pytest.mark.parametrize("how", ["retired", "ended"])
def test_what_is_out_of_use_or_sold_no_more_comes_off_the_order_of_the_house_at_once(world: World, how: str) -> None:
    oil = used(world)
    used(world, "Coconut oil", left="100")
    (order,) = propose_now(actor=world.actor, at=world.now)
    if how == "ended":
        end_offer(actor=world.actor, offer=oil, at=world.now)
    else:
        Lot.unscoped.filter(material=oil.material).update(on_hand=0)
        retire_material(actor=world.actor, material=oil.material, at=world.now)
    assert packs_of(order) == {"Coconut oil"}
    (line,) = Proposal.objects.within(world.workshop).get(order=order).lines
    assert Material.objects.within(world.workshop).get(pk=line["material"]).name == "Coconut oil"


def test_on_an_order_of_a_person_it_stays_and_the_house_says_no_more_of_it(world: World, oil: Offer) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 7}, at=world.now)
    propose_now(actor=world.actor, at=world.now)
    end_offer(actor=world.actor, offer=oil, at=world.now)
    assert packs_of(mine) == {"Olive oil"}
    assert not Proposal.objects.within(world.workshop).filter(order=mine).exists()
