"""Orders as a maker goes about them: written in taps, sent on a day, late by word and mark, received with all that differs."""

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.workshops.models import AuditEntry, Member
from inventory.balance import differences
from inventory.models import Lot, Offer, Order, OrderLine
from inventory.services.offers import TermsEntry, write_terms
from inventory.services.orders import lines_of, newest_step, send_order, write_order
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def offers(world: World) -> list[Offer]:
    """Return olive oil and lye, the lye hazardous."""
    write_terms(
        actor=world.actor,
        supplier=world.supplier(),
        terms=TermsEntry(Decimal(9), Decimal(100), Decimal(15), 3),
    )
    oil = world.offer(breaks=[(4, Decimal("7.20"))], shelf_days=300)
    return [oil, world.offer(material=world.material("Lye", kind="lye"), price=Decimal("5.50"), is_hazardous=True)]


@pytest.fixture
def sent(world: World, offers: list[Offer]) -> Order:
    """Return four kilograms of oil and one of lye, sent two days ago."""
    packs = {offers[0].pk: 4, offers[1].pk: 1}
    order = write_order(actor=world.actor, supplier=offers[0].supplier, packs=packs, at=world.now)
    return send_order(actor=world.actor, order=order, sent_on=world.days_ago(2).date(), at=world.now)


def typed(packs: dict[Offer, int], was: dict[Offer, int] | None = None, **more: str) -> dict[str, Any]:
    fields = {f"packs_{offer.pk}": str(many) for offer, many in packs.items()}
    return {**fields, **{f"was_{offer.pk}": str((was or {}).get(offer, 0)) for offer in packs}, **more}


def test_an_order_is_written_added_to_and_sent(world: World, visitor: Visitor, offers: list[Offer]) -> None:
    oil, lye = offers
    answer = visitor.post("order_write", oil.supplier_id, **typed({oil: 3, lye: 0}, note="Ring before you come"))
    order = Order.objects.within(world.workshop).get()
    assert answer.url == f"/orders/{order.pk}/"
    words = visitor.words("order", order.pk)
    for said in ("3 × 1000 g", "8.20 EUR a pack", "24.60 EUR", "75.40 EUR", "33.60 EUR", "Ring before you come", "written"):
        assert said in words, said
    visitor.post("order_write", oil.supplier_id, **typed({oil: 4, lye: 1}, {oil: 3}, note="", note_was="Ring before you come"))
    words = visitor.words("order", order.pk)
    for said in ("7.20 EUR a pack", "hazard surcharge 15.00 EUR", "34.30 EUR", "58.30 EUR"):
        assert said in words, said
    assert visitor.post("order_send", order.pk, sent_on="2026-03-09").status_code == 302
    words = visitor.words("order", order.pk)
    assert "sent Mon 9 Mar" in words
    assert "likely Thu 12 Mar" in words
    assert "sent" in visitor.words("orders")


def test_what_another_wrote_meanwhile_stays(world: World, visitor: Visitor, offers: list[Offer]) -> None:
    oil, lye = offers
    visitor.post("order_write", oil.supplier_id, **typed({oil: 3, lye: 0}))
    # Two pages were open, each changes one line: the second says of the first what it was shown.
    visitor.post("order_write", oil.supplier_id, **typed({oil: 3, lye: 2}, {oil: 3}))
    visitor.post("order_write", oil.supplier_id, **typed({oil: 5, lye: 0}, {oil: 3}))
    packs = OrderLine.objects.within(world.workshop).in_order().values_list("material__name", "packs")
    assert list(packs) == [("Lye", 2), ("Olive oil", 5)]


def hidden_of(answer: Any) -> dict[str, str]:
    form = answer.context["form"]
    return {field.html_name: str(field.value() or "") for field in form.hidden_fields()}


@pytest.mark.parametrize("ends", ["sent", "called_off"])
def test_a_page_that_is_older_than_the_sending_of_its_order_says_so_and_writes_nothing(
    world: World, visitor: Visitor, offers: list[Offer], ends: str
) -> None:
    oil, lye = offers
    visitor.post("order_write", oil.supplier_id, **typed({oil: 3, lye: 0}, note="Ring first"))
    order = Order.objects.within(world.workshop).get()
    page = hidden_of(visitor.get("order_write", oil.supplier_id))
    if ends == "sent":
        visitor.post("order_send", order.pk, sent_on="2026-03-09")
    else:
        visitor.post("order_call_off", order.pk, why="too dear")
    packs = {f"packs_{oil.pk}": "4", f"packs_{lye.pk}": "2", "note": "Ring first"}
    answer = visitor.post("order_write", oil.supplier_id, **page, **packs)
    said = "was sent Mon 9 Mar" if ends == "sent" else "was called off"
    assert answer.status_code == 200
    assert f"Order 1, Brook Mill {said}" in answer.content.decode()
    assert "nothing of what you changed is written" in answer.content.decode()
    assert Order.objects.within(world.workshop).count() == 1
    # What was changed stands there as an order of its own; what was sent already is not asked for twice.
    shown = answer.context["form"]
    assert [shown[f"packs_{offer.pk}"].value() for offer in offers] == [1, 2]
    again = {f"packs_{oil.pk}": "1", f"packs_{lye.pk}": "2", "note": ""}
    assert visitor.post("order_write", oil.supplier_id, **hidden_of(answer), **again).url.startswith("/orders/")
    lines = OrderLine.objects.within(world.workshop).filter(order__number=2).in_order()
    assert list(lines.values_list("material__name", "packs")) == [("Lye", 2), ("Olive oil", 1)]
    assert Order.objects.within(world.workshop).get(number=2).note == ""


@pytest.mark.parametrize(
    ("packs", "said"), [("0", "how many packs"), ("x", "whole number"), ("-1", "whole number"), ("", "how many")]
)
def test_what_cannot_be_ordered_is_said(world: World, visitor: Visitor, offers: list[Offer], packs: str, said: str) -> None:
    answer = visitor.post("order_write", offers[0].supplier_id, **{f"packs_{offers[0].pk}": packs})
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert not Order.objects.within(world.workshop).exists()


def receipt(order: Order, **lines: dict[str, str]) -> dict[str, str]:
    """Return what is typed: of each line (oil, lye) its fields; a line that is not named came in as ordered."""
    named = {"Olive oil": "oil", "Lye": "lye"}
    fields = {"received_on": "2026-03-10", "standing": "released", "seen": str(newest_step(order))}
    for line in lines_of(order):
        said = {"packs_0": str(line.open_packs), "price": str(line.price), **lines.get(named[line.material.name], {})}
        fields |= {f"l{line.pk}_{name}": value for name, value in said.items()}
    return fields


def test_all_that_differs_is_booked_at_once(world: World, visitor: Visitor, sent: Order) -> None:
    """A short delivery with a damaged pack, two lot numbers and another price; the lye did not come."""
    oil = {
        "packs_0": "1", "supplier_lot_0": "BM-1", "best_before_0": "2027-03-01", "packs_1": "1", "supplier_lot_1": "BM-2",
        "damaged": "1", "damaged_are": "quarantine", "damaged_why": "lid cracked", "price": "7,80", "changes_offer": "on",
    }  # fmt: skip
    key = str(uuid.uuid4())
    typed_once = receipt(sent, oil=oil, lye={"packs_0": "0"})
    answer = visitor.post("order_receive", sent.pk, form_key=key, **typed_once)
    assert answer.status_code == 302, answer.content.decode()
    lots = list(
        Lot.objects.within(world.workshop).order_by("number").values_list("supplier_lot", "standing", "on_hand", "unit_cost")
    )
    cost = Decimal("0.0078")
    assert lots == [("BM-1", "released", 1000, cost), ("BM-2", "released", 1000, cost), ("BM-1", "quarantine", 1000, cost)]
    words = visitor.words("order", sent.pk)
    for said in (
        "3 lots came in",
        "Still to come: Lye (1 pack), Olive oil (1 pack)",
        "cost 7.80 EUR a pack, ordered for 7.20 EUR",
        "partly in",
        "3 packs came",
        "1 pack to come",
        "lid cracked",
    ):
        assert said in words, said
    # Sent again by a double tap, it is booked once.
    again = visitor.post("order_receive", sent.pk, form_key=key, **typed_once)
    assert (again.status_code, again.url) == (302, answer.url)
    assert Lot.objects.within(world.workshop).count() == 3
    assert differences() == []


def test_what_will_not_come_ends_the_line(world: World, visitor: Visitor, sent: Order) -> None:
    oil = {"packs_0": "3", "rest": "ends", "rest_why": "sold out"}
    visitor.post("order_receive", sent.pk, **receipt(sent, oil=oil))
    assert Order.objects.within(world.workshop).get().state == "in"
    assert "will not come (sold out)" in visitor.words("order", sent.pk)


def test_damaged_packs_that_are_not_taken_are_still_owed(world: World, visitor: Visitor, sent: Order) -> None:
    oil = {"packs_0": "3", "damaged": "1", "damaged_are": "not_taken", "damaged_why": "leaked out"}
    visitor.post("order_receive", sent.pk, **receipt(sent, oil=oil))
    words = visitor.words("order", sent.pk)
    assert "1 damaged pack not taken" in words
    assert "1 pack to come" in words


@pytest.mark.parametrize(
    ("oil", "field", "said"),
    [
        ({"packs_0": "3", "damaged": "1"}, "damaged_why", "what is wrong"),
        ({"packs_0": "3", "damaged": "1", "damaged_are": "not_taken"}, "damaged_why", "not taken"),
        ({"packs_0": "x"}, "packs_0", "whole number"),
        ({"best_before_0": "soon"}, "best_before_0", "not a day"),
        ({"best_before_0": "2099-01-01"}, "best_before_0", "check its year"),
        ({"packs_0": "3", "rest": "ends"}, "rest_why", "will not come"),
        ({"price": "-3"}, "price", "check the figure"),
    ],
)
def test_what_cannot_be_right_is_said_beside_its_field_and_kept(
    world: World, visitor: Visitor, sent: Order, oil: dict[str, str], field: str, said: str
) -> None:
    answer = visitor.post("order_receive", sent.pk, **receipt(sent, oil=oil))
    page = answer.content.decode()
    line = next(line for line in lines_of(sent) if line.material.name == "Olive oil")
    assert answer.status_code == 200
    remedy = page.partition(f'id="id_l{line.pk}_{field}_error"')[2].partition("</ul>")[0]
    assert said in remedy
    assert not Lot.objects.within(world.workshop).exists()


def test_nothing_came_is_no_receipt(visitor: Visitor, sent: Order) -> None:
    nothing = {"packs_0": "0"}
    answer = visitor.post("order_receive", sent.pk, **receipt(sent, oil=nothing, lye=nothing))
    assert "Nothing came by this" in answer.content.decode()


def test_a_late_order_says_so_by_word_and_mark_and_comes_first(world: World, visitor: Visitor, sent: Order) -> None:
    world.now = world.now + timedelta(days=4)
    page = visitor.words("orders")
    assert "‼ late" in page or "‼late" in page
    assert "expected Wed 11 Mar" in visitor.words("order", sent.pk)


def test_another_day_and_calling_off_are_kept_with_their_words(world: World, visitor: Visitor, sent: Order) -> None:
    assert visitor.post("order_promise", sent.pk, promised_on="2026-03-20", why="the mill stands still").status_code == 302
    assert "they named Fri 20 Mar" in visitor.words("order", sent.pk)
    line = next(line for line in lines_of(sent) if line.material.name == "Lye")
    visitor.post("order_call_off", sent.pk, line=str(line.pk), why="bought in town")
    assert Order.objects.within(world.workshop).get().state == "sent"
    refused = visitor.post("order_call_off", sent.pk, why="")
    assert refused.status_code == 200
    visitor.post("order_call_off", sent.pk, why="they closed")
    words = visitor.words("order", sent.pk)
    for said in ("called off", "bought in town", "the mill stands still", "they closed"):
        assert said in words, said
    codes = list(AuditEntry.objects.within(world.workshop).order_by("pk").values_list("code", flat=True))
    assert codes == ["order_promise", "order_call_off", "order_call_off"]


def test_what_is_only_written_is_called_off_as_a_whole(world: World, visitor: Visitor, offers: list[Offer]) -> None:
    packs = {offer.pk: 2 for offer in offers}
    order = write_order(actor=world.actor, supplier=offers[0].supplier, packs=packs, at=world.now)
    assert "all that is still to come" not in visitor.words("order_call_off", order.pk)
    line = lines_of(order)[0]
    visitor.post("order_call_off", order.pk, line=str(line.pk), why="too early")
    assert Order.objects.within(world.workshop).get().state == "called_off"


def test_a_receipt_that_was_booked_meanwhile_is_not_booked_again(world: World, visitor: Visitor, sent: Order) -> None:
    fields = receipt(sent)
    fields["seen"] = visitor.get("order_receive", sent.pk).context["form"]["seen"].value()
    assert visitor.post("order_receive", sent.pk, **fields).status_code == 302
    page = visitor.post("order_receive", sent.pk, **fields)
    assert "Something came in meanwhile, or was called off" in page.context["form"].non_field_errors()[0]
    assert Lot.objects.within(world.workshop).count() == 2
    # Who has read it, and says so again, is believed: what came is booked.
    again = {**fields, "seen": page.context["form"]["seen"].value()}
    assert visitor.post("order_receive", sent.pk, **again).status_code == 302
    assert Lot.objects.within(world.workshop).count() == 4


def test_an_error_of_a_second_lot_stands_beside_it_though_the_first_is_empty(visitor: Visitor, sent: Order) -> None:
    oil = {"packs_0": "0", "packs_1": "2", "best_before_1": "2099-01-01"}
    form = visitor.post("order_receive", sent.pk, **receipt(sent, oil=oil, lye={"packs_0": "0"})).context["form"]
    (line,) = [line.pk for line in lines_of(sent) if line.material.name == "Olive oil"]
    assert list(form.errors) == [f"l{line}_best_before_1"]


def test_who_sees_no_costs_sees_orders_without_them(world: World, visitor: Visitor, sent: Order) -> None:
    Member.objects.within(world.workshop).update(role="helper")
    page = visitor.get("order", sent.pk).content.decode()
    assert "Olive oil" in page
    for price in ("7.20", "28.80", "15.00", "9.00"):
        assert price not in page
    for name, args in (("list_orders_csv", ()), ("list_order_lines_csv", (sent.pk,))):
        rows = b"".join(visitor.get(name, *args).streaming_content).decode()
        assert "Olive oil" in rows
        assert "EUR" not in rows
    assert visitor.get("order_receive", sent.pk).status_code == 403
    assert "href" in page
    assert f"/orders/{sent.pk}/receive/" not in page


def test_pages_take_as_many_queries_however_many_lines_there_are(world: World, visitor: Visitor, sent: Order) -> None:
    few = visitor.queries("orders"), visitor.queries("order", sent.pk)
    for number in range(6):
        offer = world.offer(material=world.material(f"Oil {number}"))
        order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
        send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    assert (visitor.queries("orders"), visitor.queries("order", sent.pk)) == few


def test_an_empty_book_of_orders_says_what_to_do(visitor: Visitor) -> None:
    assert "Nothing was ordered yet" in visitor.words("orders")
