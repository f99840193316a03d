"""Slips at the packing table: what cannot be meant as it is typed is asked about, and nothing typed is lost."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.flows.orders import send_order
from curehouse.workshops.models import Member
from inventory.models import Lot, Offer, Order, OrderLine
from inventory.services.orders import lines_of, newest_step, write_order
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def sent(world: World) -> Order:
    """Return four cans of oil and three of lye, sent two days ago."""
    oil = world.offer(pack=Decimal(5000), price=Decimal("31.00"))
    lye = world.offer(material=world.material("Lye", kind="lye"), pack=Decimal(5000), price=Decimal("21.50"))
    order = write_order(actor=world.actor, supplier=oil.supplier, packs={oil.pk: 4, lye.pk: 3}, at=world.now)
    return send_order(actor=world.actor, order=order, sent_on=world.days_ago(2).date(), at=world.now)


def line_of(order: Order, material: str = "Olive oil") -> OrderLine:
    return next(line for line in lines_of(order) if line.material.name == material)


def book(visitor: Visitor, order: Order, *, lye: dict[str, str] | None = None, **oil: str) -> HttpResponse:
    """Send what was typed of the oil; the lye came as it was ordered unless said otherwise."""
    fields = {"received_on": visitor.world.now.date().isoformat(), "standing": "released", "seen": str(newest_step(order))}
    for line in lines_of(order):
        said = oil if line.material.name == "Olive oil" else lye or {}
        shown = {"packs_0": str(line.open_packs), "price": f"{line.price:.2f}"}
        fields |= {f"l{line.pk}_{name}": value for name, value in {**shown, **said}.items()}
    return visitor.post("order_receive", order.pk, **fields)


def remedy(answer: HttpResponse, order: Order, field: str) -> str:
    """Return what stands beside a field of the oil's."""
    assert answer.status_code == 200
    return answer.content.decode().partition(f'id="id_l{line_of(order).pk}_{field}_error"')[2].partition("</ul>")[0]


def test_what_was_over_when_it_came_is_booked_and_said(world: World, visitor: Visitor, sent: Order) -> None:
    over = (world.now - timedelta(days=40)).date()
    assert book(visitor, sent, best_before_0=over.isoformat()).status_code == 302
    lot = Lot.objects.within(world.workshop).get(material__name="Olive oil")
    words = visitor.words("order", sent.pk)
    assert f"{lot} was past its best-before, Thu 29 Jan, when it came, so no run takes it" in words
    assert "Lye, lot" in words
    assert words.count("past its best-before") == 1


SLIPS: list[tuple[dict[str, str], str, str]] = [
    # Of four cans one is damaged, and the four that were expected still stand there as having come whole.
    ({"damaged": "1", "damaged_why": "lid cracked"}, "packs_0", "That makes 5 packs of Olive oil, and 4 were to come"),
    ({"packs_0": "3", "packs_1": "2"}, "packs_0", "That makes 5 packs of Olive oil"),
    ({"packs_0": "40"}, "packs_0", "That makes 40 packs of Olive oil"),
    ({"rest": "ends", "rest_why": "sold out"}, "rest", "All 4 packs of Olive oil came by this"),
    ({"packs_0": "3", "rest_why": "sold out"}, "rest", "Olive oil: choose that it will not come"),
    ({"packs_0": "3", "supplier_lot_1": "BM-9"}, "packs_1", "Say how many packs of Olive oil are of this lot"),
    ({"packs_0": "3", "best_before_2": "2027-01-01"}, "packs_2", "Say how many packs of Olive oil are of this lot"),
    ({"packs_0": "3", "amount_1": "4,8"}, "packs_1", "Say how many packs of Olive oil are of this lot"),
    ({"packs_0": "0", "supplier_lot_0": "BM-1"}, "packs_0", "Say how many packs of Olive oil are of this lot"),
    ({"packs_0": "3", "damaged_why": "lid cracked"}, "damaged", "Say how many packs of Olive oil are damaged"),
    ({"packs_0": "0", "price": "33"}, "price", "Nothing of Olive oil came by this, so nothing was paid for it"),
    ({"packs_0": "0", "changes_offer": "on"}, "price", "Nothing of Olive oil came by this"),
    ({"packs_0": "0", "why": "sealed"}, "why", "Nothing of Olive oil came by this"),
]  # fmt: skip


@pytest.mark.parametrize(("oil", "field", "said"), SLIPS)
def test_a_slip_is_asked_about_beside_its_field_and_nothing_is_booked(
    world: World, visitor: Visitor, sent: Order, oil: dict[str, str], field: str, said: str
) -> None:
    answer = book(visitor, sent, **oil)
    assert said in remedy(answer, sent, field)
    assert not Lot.objects.within(world.workshop).exists()
    # What was typed is all there, in a part that is open.
    page = answer.content.decode()
    for name, value in oil.items():
        if name not in ("rest", "changes_offer"):
            assert f'name="l{line_of(sent).pk}_{name}" value="{value}"' in page
    assert '<details class="opening" open>' in page or set(oil) <= {"packs_0", "supplier_lot_0"}


def test_more_than_was_ordered_is_booked_once_it_is_said_that_it_really_came(
    world: World, visitor: Visitor, sent: Order
) -> None:
    damaged = {"damaged": "1", "damaged_why": "lid cracked"}
    asked = book(visitor, sent, **damaged).content.decode()
    assert f'name="l{line_of(sent).pk}_really" value="5"' in asked
    assert "5 packs of it really came" in asked
    # Another number than the one that was asked about is asked about again.
    assert "That makes 6 packs" in remedy(book(visitor, sent, really="5", **{**damaged, "packs_0": "5"}), sent, "packs_0")
    assert book(visitor, sent, really="5", **damaged).status_code == 302
    assert sorted(Lot.objects.within(world.workshop).values_list("on_hand", flat=True)) == [5000, 15000, 20000]


def test_more_that_came_of_an_order_that_is_in_is_not_asked_about(world: World, visitor: Visitor, sent: Order) -> None:
    book(visitor, sent)
    assert book(visitor, sent, packs_0="1").status_code == 302
    assert Lot.objects.within(world.workshop).count() == 3


def test_what_the_verb_refuses_names_the_material(visitor: Visitor, sent: Order) -> None:
    page = book(visitor, sent, packs_0="3", damaged="1")
    assert "Olive oil: Say what is wrong with the damaged packs" in remedy(page, sent, "damaged_why")


def test_the_page_says_what_was_ordered_in_packs_and_how_much_they_hold(visitor: Visitor, sent: Order) -> None:
    assert "Olive oil 4 × 5 kg ordered" in visitor.words("order_receive", sent.pk)
    book(visitor, sent, packs_0="3")
    assert "Olive oil 4 × 5 kg ordered, 1 pack to come" in visitor.words("order_receive", sent.pk)


def test_another_price_stays_with_the_order_the_offer_and_the_lot(world: World, visitor: Visitor, sent: Order) -> None:
    world.now += timedelta(days=1)
    book(visitor, sent, lye={"price": "23,90", "changes_offer": "on"})
    assert "Lye cost 23.90 EUR a pack, ordered for 21.50 EUR" in visitor.words("order", sent.pk).partition("What was done")[2]
    before, now = Offer.objects.within(world.workshop).filter(material__name="Lye").order_by("pk")
    assert "21.50 EUR a pack until Wed 11 Mar" in visitor.words("offer", now.pk)
    assert "23.90 EUR a pack since Wed 11 Mar" in visitor.words("offer", now.pk)
    words = visitor.words("offer", before.pk)
    assert "sold so until Wed 11 Mar" in words
    assert "23.90 EUR a pack since Wed 11 Mar" in words
    lot = Lot.objects.within(world.workshop).get(material__name="Lye")
    assert "came in by Order 1, Brook Mill" in visitor.words("lot", lot.pk)
    assert f'href="/orders/{sent.pk}/"' in visitor.get("lot", lot.pk).content.decode()
    Member.objects.within(world.workshop).update(role="helper")
    for page, key in (("order", sent.pk), ("offer", now.pk), ("lot", lot.pk)):
        assert "23.90" not in visitor.words(page, key)


def test_the_pages_of_an_offer_and_a_lot_take_as_many_queries_however_often_the_price_changed(
    world: World, visitor: Visitor, sent: Order
) -> None:
    def queries() -> tuple[int, int]:
        offer = Offer.objects.within(world.workshop).standing().get(material__name="Lye")
        lot: Any = Lot.objects.within(world.workshop).filter(material__name="Lye").first()
        return visitor.queries("offer", offer.pk), visitor.queries("lot", lot.pk)

    book(visitor, sent, lye={"price": "22", "changes_offer": "on"})
    few = queries()
    for price in ("23", "24", "25"):
        book(visitor, sent, lye={"packs_0": "1", "price": price, "changes_offer": "on"})
    assert queries() == few
