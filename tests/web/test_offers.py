"""What a supplier sells, as its keeper writes it down: at the supplier, at the material, with costs for those who see them."""

from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.workshops.models import Member
from inventory.models import Material, Offer, Supplier
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


def lye_of(world: World) -> Material:
    return Material.objects.within(world.workshop).called("Lye") or world.material("Lye", kind="lye")


def write(world: World, visitor: Visitor, **changes: Any) -> HttpResponse:
    typed = {
        "material": lye_of(world).pk, "pack": "5", "unit": "kg", "price": "21,50", "from_0": "4", "price_0": "19.90",
        "min_packs": "1", "shelf_days": "700", "lead_days": "", "article": "NaOH-5", "is_hazardous": "on",
    }  # fmt: skip
    return visitor.post("offer_new", world.supplier().pk, **{**typed, **changes})


def test_an_offer_is_written_at_its_supplier_and_shown_at_its_material(world: World, visitor: Visitor) -> None:
    answer = write(world, visitor)
    assert answer.status_code == 302, answer.content.decode()
    offer = Offer.objects.within(world.workshop).named().get()
    assert (offer.pack, offer.price, offer.is_hazardous, offer.shelf_days, offer.lead_days) == (
        5000, Decimal("21.50"), True, 700, None,
    )  # fmt: skip
    for words in (visitor.words("supplier", offer.supplier_id), visitor.words("material", offer.material_id)):
        assert "Lye, 5 kg" in words
        assert "from 4 packs 19.90 EUR, keeps 700 days as it comes in, hazard surcharge" in words
        assert "21.50 EUR" in words
    assert "Brook Mill: Lye" in visitor.words("material", offer.material_id)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pack": ""}, "The pack is missing"),
        ({"price": "cheap"}, "type figures"),
        ({"unit": "pieces"}, "Lye is kept in grams"),
        ({"from_1": "9"}, "A cheaper price needs both"),
        ({"price_0": "30"}, "not less than before"),
        ({"min_packs": "0"}, "whole number from 1"),
        ({"material": "987654"}, "Choose the material from the list"),
        ({"shelf_days": "90000"}, "whole number from 1 to 3660"),
    ],
)
def test_what_cannot_be_sold_is_said_beside_the_field(
    world: World, visitor: Visitor, changes: dict[str, str], said: str
) -> None:
    answer = write(world, visitor, **changes)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert not Offer.objects.within(world.workshop).exists()


def test_what_is_sold_otherwise_is_another_offer(world: World, visitor: Visitor) -> None:
    write(world, visitor)
    old = Offer.objects.within(world.workshop).get()
    page = visitor.get("offer", old.pk).content.decode()
    assert 'value="5000"' in page
    assert 'value="21.50"' in page
    typed = {"pack": "5", "unit": "kg", "price": "23", "min_packs": "1", "article": "NaOH-5"}
    assert visitor.post("offer", old.pk, **typed).status_code == 302
    new = Offer.objects.within(world.workshop).standing().get()
    assert (new.price, new.follows_id) == (23, old.pk)
    assert "ended" in visitor.words("offer", old.pk)
    again = visitor.post("offer", old.pk, **typed)
    assert "has ended already" in again.content.decode()


def test_an_offer_ends_and_stays_on_record(world: World, visitor: Visitor) -> None:
    write(world, visitor)
    offer = Offer.objects.within(world.workshop).get()
    assert visitor.post("offer_end", offer.pk).status_code == 302
    words = visitor.words("supplier", offer.supplier_id)
    assert "Lye, 5 kg" in words
    assert "ended" in words


def test_what_a_supplier_asks_beside_the_goods_is_kept(world: World, visitor: Visitor) -> None:
    supplier = world.supplier()
    typed = {"freight": "9,50", "free_freight_from": "200", "hazard_surcharge": "15", "lead_days": "6"}
    assert visitor.post("supplier_terms", supplier.pk, **typed).status_code == 302
    row = Supplier.objects.within(world.workshop).get()
    assert (row.freight, row.free_freight_from, row.hazard_surcharge, row.lead_days) == (Decimal("9.50"), 200, 15, 6)
    words = visitor.words("supplier", supplier.pk)
    assert "9.50 EUR" in words
    assert "6 days" in words
    assert visitor.post("supplier_terms", supplier.pk).status_code == 302
    row.refresh_from_db()
    assert (row.freight, row.lead_days) == (None, None)


def test_who_sees_no_costs_sees_what_is_sold_and_not_for_how_much(world: World, visitor: Visitor) -> None:
    write(world, visitor)
    visitor.post("supplier_terms", world.supplier().pk, freight="9.50", lead_days="6")
    offer = Offer.objects.within(world.workshop).get()
    Member.objects.within(world.workshop).update(role="helper")
    for name, pk in (("supplier", offer.supplier_id), ("material", offer.material_id), ("offer", offer.pk)):
        page = visitor.get(name, pk).content.decode()
        assert "Lye" in page
        assert "21.50" not in page
        assert "19.90" not in page
        assert "9.50" not in page
    rows = b"".join(visitor.get("list_offers_csv").streaming_content).decode()
    assert "NaOH-5" in rows
    assert "21.5" not in rows
