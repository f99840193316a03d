"""The sheet of an order and its text: what a supplier reads, in any letters the font has, with prices where they are wanted."""

from decimal import Decimal
from io import BytesIO
from urllib.parse import parse_qs, urlsplit

import pytest
from pypdf import PdfReader

from curehouse.common.file_kinds import kind_of
from curehouse.workshops.models import Member
from inventory.models import Order
from inventory.services.orders import call_off, write_order
from inventory.services.things import SupplierEntry, write_supplier
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
NAME = "Mühle Žďár & Σία, Ørsted–Łódź"


def ordered(world: World, *, lines: int = 1, name: str = NAME, contact: str = "Bestellung <orders@muehle.example>") -> Order:
    supplier = write_supplier(workshop=world.workshop, entry=SupplierEntry(name, contact))
    offers = [
        world.offer(supplier=supplier, material=world.material(f"Масло оливковое {number}"), article=f"Ö-{number}")
        for number in range(lines)
    ]
    packs = {offer.pk: 3 for offer in offers}
    note = "Bitte nicht vor zehn.\nDanke!"
    return write_order(actor=world.actor, supplier=supplier, packs=packs, note=note, at=world.now)


def sheet(visitor: Visitor, order: Order, query: str = "") -> PdfReader:
    answer = visitor.get("order_sheet", order.pk, query=query)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return PdfReader(BytesIO(answer.content), strict=True)


def text_of(reader: PdfReader) -> str:
    return "\n".join(page.extract_text() for page in reader.pages)


def test_the_sheet_says_what_is_ordered_in_the_letters_it_was_written_in(world: World) -> None:
    order = ordered(world)
    said = text_of(sheet(Visitor(world), order))
    for part in (
        "Fennel Yard Soapworks", f"Order {order.number}", NAME, "orders@muehle.example", "Масло оливковое 0", "Ö-0",
        "3 packs of 1 kg", "8.20 EUR a pack", "24.60 EUR", "Bitte nicht vor zehn.", "Danke!",
    ):  # fmt: skip
        assert part in said, part


def test_without_prices_no_price_is_on_it(world: World) -> None:
    visitor, order = Visitor(world), ordered(world)
    assert "EUR" not in text_of(sheet(visitor, order, "?without-prices"))
    Member.objects.within(world.workshop).update(role="helper")
    assert "EUR" not in text_of(sheet(visitor, order))


def test_an_order_that_was_called_off_says_so(world: World) -> None:
    order = ordered(world)
    call_off(actor=world.actor, order=order, why="too early", at=world.now)
    assert f"Order {order.number}, called off" in text_of(sheet(Visitor(world), order))


def test_a_long_order_goes_on_over_pages_and_loses_no_line(world: World) -> None:
    reader = sheet(Visitor(world), ordered(world, lines=45))
    assert len(reader.pages) > 1
    said = text_of(reader)
    assert [number for number in range(45) if f"Ö-{number}" not in said] == []


def test_the_house_takes_its_own_sheet_for_a_paper(world: World) -> None:
    """What is attached is looked through: nothing in it acts by itself."""
    content = Visitor(world).get("order_sheet", ordered(world).pk).content
    assert kind_of(content) == "application/pdf"


def test_letters_that_the_font_lacks_are_said_and_the_text_has_them(world: World) -> None:
    visitor, order = Visitor(world), ordered(world, name="石鹸屋")
    answer = visitor.get("order_sheet", order.pk)
    assert answer.status_code == 409
    assert "send the order as text instead" in answer.content.decode()
    assert "3 packs of 1 kg: Масло оливковое 0 (your number Ö-0)" in visitor.words("order", order.pk)


def test_a_mail_begins_with_the_order_in_it(world: World) -> None:
    page = Visitor(world).get("order", ordered(world).pk).content.decode()
    address = page.partition('href="mailto:')[2].partition('"')[0].replace("&amp;", "&")
    parts = urlsplit(f"mailto:{address}")
    assert parts.path == "orders@muehle.example"
    sent = parse_qs(parts.query)
    assert sent["subject"] == ["Order 1, Fennel Yard Soapworks"]
    assert "- 3 packs of 1 kg: Масло оливковое 0 (your number Ö-0)\r\n" in sent["body"][0]
    assert "EUR" not in sent["body"][0]


def test_without_an_address_no_mail_is_offered(world: World) -> None:
    page = Visitor(world).get("order", ordered(world, contact="ring 0123").pk).content.decode()
    assert "mailto:" not in page


def test_a_strangers_sheet_is_not_here(world: World, stranger: World) -> None:
    assert Visitor(world).get("order_sheet", ordered(stranger).pk).status_code == 404


def test_the_same_order_is_the_same_sheet(world: World) -> None:
    visitor, order = Visitor(world), ordered(world)
    first, second = (visitor.get("order_sheet", order.pk).content for _ in range(2))
    assert first == second
    assert Decimal(len(first)) < 200_000
