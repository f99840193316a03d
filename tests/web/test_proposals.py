"""The order the house wrote, as a maker meets it: why each line stands there, looked for now, put off."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.propose import propose_now
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.workshops.models import Member
from inventory.models import Offer, Order, Proposal, PutOff
from inventory.services.lots import rule_lot
from inventory.services.offers import TermsEntry, write_terms
from inventory.services.orders import lines_of, send_order, write_order
from tests.used import used
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def oil(world: World) -> Offer:
    return used(world)


def test_looking_now_writes_the_order_and_its_page_says_why(world: World, visitor: Visitor, oil: Offer) -> None:
    assert visitor.post("orders_propose").url == "/orders/"
    order = Order.objects.within(world.workshop).get()
    assert "1 order to decide." in visitor.words("orders")
    words = visitor.words("order", order.pk)
    for said in (
        "The house wrote this order", "decide today", "Nothing is sent by itself", "2 packs of 5 kg",
        "it will not be enough with a chance of", "No delivery seen yet, 7 days as they say", "No run that takes it is planned",
        "300 g", "Not now",
    ):  # fmt: skip
        assert said in words, said


def test_where_there_is_enough_it_says_so(world: World, visitor: Visitor) -> None:
    used(world, left="20000")
    visitor.post("orders_propose")
    assert "Nothing needs to be ordered now." in visitor.words("orders")


def test_an_order_of_a_person_says_what_the_house_would_order(world: World, visitor: Visitor, oil: Offer) -> None:
    mine = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 7}, at=world.now)
    visitor.post("orders_propose")
    words = visitor.words("order", mine.pk)
    assert "The house would order this" in words
    assert "7 × 5000 g" in words


def test_not_now_is_a_day_and_a_reason(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    refused = visitor.post("material_put_off", oil.material_id, until="2026-03-20", why="")
    assert refused.status_code == 200
    assert not PutOff.objects.within(world.workshop).exists()
    answer = visitor.post("material_put_off", oil.material_id, until="2026-03-20", why="Another mill next month")
    assert answer.url == "/orders/"
    assert "Olive oil is not proposed before" in visitor.words("orders")
    assert PutOff.objects.within(world.workshop).get().until == world.now.date() + timedelta(days=10)
    assert Order.objects.within(world.workshop).get().state == "called_off"


def test_a_due_line_says_how_many_of_its_packs_are_there_for_the_freight_and_sums_to_those_who_see_costs(
    world: World, visitor: Visitor
) -> None:
    oil = used(world, pack=Decimal(500), price=Decimal(30))
    write_terms(actor=world.actor, supplier=oil.supplier, terms=TermsEntry(Decimal("8.50")))
    (order,) = propose_now(actor=world.actor, at=world.now)
    plain = order.lines.get().packs
    assert "Freight of 8.50 EUR is asked however much is ordered." in visitor.words("order", order.pk)
    write_terms(
        actor=world.actor, supplier=oil.supplier, terms=TermsEntry(Decimal("8.50"), Decimal(30 * plain + 50))
    )  # fmt: skip
    propose_now(actor=world.actor, at=world.now)
    (line,) = Proposal.objects.within(world.workshop).get().lines
    assert (line["because"], line["packs"], line["freight"]["packs"]) == ("due", plain + 2, 2)
    some = f"2 of {plain + 2} packs are ordered only so that the freight"
    told = f"{some} of 8.50 EUR falls away from goods of {30 * plain + 50}.00 EUR on."
    for page in (visitor.words("order", order.pk), visitor.words("material", oil.material_id)):
        assert told in page
    Member.objects.within(world.workshop).update(role="helper")
    for page in (visitor.words("order", order.pk), visitor.words("material", oil.material_id)):
        assert f"{some} falls away from a sum of goods on." in page
        assert "EUR" not in page


def test_one_receipt_s_other_day_changes_the_words_and_how_much_is_ordered(world: World, visitor: Visitor) -> None:
    """Three deliveries took a week; then a person puts the day of the newest right, and looks again."""
    oil = used(world, left="50", pack=Decimal(50), price=Decimal(10))
    for ago in (120, 90, 60):
        row = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 1}, at=world.now)
        row = send_order(actor=world.actor, order=row, sent_on=world.days_ago(ago).date(), at=world.now)
        came = [LineCame(line.pk, [LotCame(1)]) for line in lines_of(row)]
        on = world.days_ago(ago - 7).date()
        (lot,) = receive_order(actor=world.actor, order=row, received_on=on, came=came, at=world.now).lots
        rule_lot(actor=world.actor, lot=lot, standing="released", why="sealed", at=world.now)

    def looked() -> tuple[list[int], int, str]:
        visitor.post("orders_propose")
        order = Order.objects.within(world.workshop).written().get()
        said = re.search(
            r"(By 3 deliveries of it: .*? within (\d+) days, 9 of 10 within (\d+) days\.)", visitor.words("order", order.pk)
        )
        assert said is not None
        return [int(said[2]), int(said[3])], order.lines.get().packs, said[1]

    days, packs, words = looked()
    papers = {"supplier_lot": "", "best_before": "", "unit_cost": "0.2", "why": "It stood in the yard till then."}
    answer = visitor.post("lot_correct", lot.pk, **papers, received_on=world.days_ago(15).date().isoformat())
    assert answer.status_code == 302, answer.content.decode()
    later, more, others = looked()
    assert days == [7, 9]
    assert later[1] > 20
    assert words != others
    assert more > packs


def test_whoever_may_not_make_sees_why_and_decides_nothing(world: World, visitor: Visitor, oil: Offer) -> None:
    propose_now(actor=world.actor, at=world.now)
    order = Order.objects.within(world.workshop).get()
    Member.objects.within(world.workshop).update(role="helper")
    words = visitor.words("order", order.pk)
    assert "The house wrote this order" in words
    assert "Not now" not in words
    assert "Look now" not in visitor.words("orders")
