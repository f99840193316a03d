"""What suppliers sell: clean or answered in words, never changed in place, and cheaper from so many packs on."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from curehouse.common.errors import Conflict, DomainError, Invalid, NotHere
from inventory.models import Offer, OfferBreak
from inventory.order_totals import totals_of
from inventory.services.offers import (
    OfferEntry,
    TermsEntry,
    change_offer,
    end_offer,
    price_of,
    write_offer,
    write_terms,
)
from inventory.services.things import MaterialEntry, edit_material
from tests.world import World

pytestmark = pytest.mark.django_db
BREAKS = [(10, Decimal("6.90")), (4, Decimal("7.20"))]


def entry_of(world: World, **changes: object) -> OfferEntry:
    entry = OfferEntry(world.supplier(), world.material("Boxes", kind="packaging"), Decimal(500), Decimal(90))
    return replace(entry, **changes)


def test_a_pack_costs_what_so_many_of_them_cost_each(world: World) -> None:
    offer = world.offer(breaks=BREAKS)
    offer = Offer.objects.within(world.workshop).named().get(pk=offer.pk)
    found = {packs: price_of(offer, packs) for packs in (1, 3, 4, 9, 10, 900)}
    assert found == {
        1: Decimal("8.20"), 3: Decimal("8.20"), 4: Decimal("7.20"), 9: Decimal("7.20"), 10: Decimal("6.90"),
        900: Decimal("6.90"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"pack": Decimal(0)}, "pack"),
        ({"pack": Decimal("2.5")}, "pack"),
        ({"pack": Decimal("NaN")}, "pack"),
        ({"price": Decimal(-1)}, "price"),
        ({"price": Decimal("1e9")}, "price"),
        ({"price": Decimal("Infinity")}, "price"),
        ({"min_packs": 0}, "min_packs"),
        ({"min_packs": 10_000}, "min_packs"),
        ({"shelf_days": 0}, "shelf_days"),
        ({"lead_days": 731}, "lead_days"),
        ({"article": "x" * 81}, "article"),
        ({"breaks": [(1, Decimal(80))]}, "breaks"),
        ({"breaks": [(4, Decimal(90))]}, "breaks"),
        ({"breaks": [(4, Decimal(80)), (8, Decimal(85))]}, "breaks"),
        ({"breaks": [(4, Decimal(80)), (4, Decimal(70))]}, "breaks"),
        ({"breaks": [(packs, Decimal(90 - packs)) for packs in range(2, 12)]}, "breaks"),
    ],
)
def test_an_offer_that_cannot_be_right_is_answered_in_words(world: World, changes: dict, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        write_offer(actor=world.actor, entry=entry_of(world, **changes), at=world.now)
    assert refused.value.field == field
    assert refused.value.message.endswith(".")
    assert not Offer.objects.within(world.workshop).exists()


def test_the_same_pack_stands_once_and_another_number_of_it_beside_it(world: World) -> None:
    offer = world.offer()
    with pytest.raises(Conflict) as refused:
        world.offer()
    assert refused.value.code == "offer_taken"
    world.offer(article="O-2")
    world.offer(pack=Decimal(5000))
    end_offer(actor=world.actor, offer=offer, at=world.now)
    world.offer()


def test_other_terms_are_a_new_offer_and_the_old_one_stays_on_record(world: World) -> None:
    old = world.offer(breaks=BREAKS)
    entry = OfferEntry(old.supplier, old.material, old.pack, Decimal("8.90"), breaks=[(4, Decimal("7.90"))])
    new = change_offer(actor=world.actor, offer=old, entry=entry, at=world.now)
    old.refresh_from_db()
    assert (old.price, old.ended_at, new.follows) == (Decimal("8.20"), world.now, old)
    assert list(Offer.objects.within(world.workshop).standing()) == [new]
    assert OfferBreak.objects.within(world.workshop).filter(offer=old).count() == 2
    with pytest.raises(Conflict) as refused:
        end_offer(actor=world.actor, offer=old, at=world.now)
    assert refused.value.code == "ended"


def test_a_change_that_is_refused_leaves_the_old_offer_standing(world: World) -> None:
    old = world.offer()
    entry = OfferEntry(old.supplier, old.material, Decimal(0), Decimal(1))
    with pytest.raises(Invalid):
        change_offer(actor=world.actor, offer=old, entry=entry, at=world.now)
    assert list(Offer.objects.within(world.workshop).standing()) == [old]


def test_grams_stay_grams_once_a_material_is_sold_in_them(world: World) -> None:
    offer = world.offer()
    with pytest.raises(Conflict) as refused:
        edit_material(material=offer.material, entry=MaterialEntry("Olive oil", "fat", measure="pieces"))
    assert refused.value.code == "measure_used"


def test_a_strangers_supplier_material_or_offer_is_not_here(world: World, stranger: World) -> None:
    offer = stranger.offer()
    mine = entry_of(world)
    for entry in (replace(mine, supplier=offer.supplier), replace(mine, material=offer.material)):
        with pytest.raises(NotHere):
            write_offer(actor=world.actor, entry=entry, at=world.now)
    with pytest.raises(NotHere):
        end_offer(actor=world.actor, offer=offer, at=world.now)
    with pytest.raises(NotHere):
        write_terms(actor=world.actor, supplier=offer.supplier, terms=TermsEntry())


@pytest.mark.parametrize("column", ["pack", "price", "min_packs", "shelf_days"])
def test_the_database_has_the_last_word(world: World, column: str) -> None:
    offer = world.offer(shelf_days=300)
    with pytest.raises(IntegrityError), transaction.atomic():
        Offer.unscoped.filter(pk=offer.pk).update(**{column: -1 if column == "price" else 0})


@pytest.mark.parametrize("terms", [TermsEntry(freight=Decimal(-1)), TermsEntry(lead_days=-1)])
def test_terms_that_cannot_be_right_are_answered_in_words(world: World, terms: TermsEntry) -> None:
    with pytest.raises(DomainError) as refused:
        write_terms(actor=world.actor, supplier=world.supplier(), terms=terms)
    assert refused.value.field in ("freight", "lead_days")


class _Line:
    def __init__(self, packs: int, price: str, *, is_hazardous: bool = False) -> None:
        self.packs, self.price, self.is_hazardous = packs, Decimal(price), is_hazardous


def test_what_an_order_comes_to() -> None:
    terms = TermsEntry(freight=Decimal("9.50"), free_freight_from=Decimal(100), hazard_surcharge=Decimal(15))
    one = totals_of([_Line(3, "8.2034")], terms)
    assert (one.goods, one.surcharge, one.freight, one.to_free_freight) == (
        Decimal("24.61"), 0, Decimal("9.50"), Decimal("75.39"),
    )  # fmt: skip
    lye = totals_of([_Line(2, "30", is_hazardous=True), _Line(1, "40", is_hazardous=True)], terms)
    assert (lye.goods, lye.surcharge, lye.freight, lye.to_free_freight, lye.all) == (100, 15, 0, 0, 115)
    assert totals_of([], terms).all == 0
    unknown = totals_of([_Line(1, "5", is_hazardous=True)], TermsEntry())
    assert (unknown.all, unknown.to_free_freight) == (5, None)
    assert totals_of([_Line(1, "5")], TermsEntry(free_freight_from=Decimal(50))).to_free_freight is None
