"""The page of a formula says which lots of the storeroom its figures stand for."""

from decimal import Decimal

import pytest

from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.services.formulas import write_formula
from inventory.models import Lot
from tests.formulas import fat, formula_entry, liquid
from tests.making.test_lots_taken import stored
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def test_the_page_says_which_lots_a_figure_stands_for(world: World, visitor: Visitor) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("50", "95"), ("5000", "99.5"))
    olive = stored(world, "Olive oil", "fat", ("400", "192"), ("5000", "187"), figure="Saponification value")
    lines = (LineEntry(Role.FAT, material=olive, amount=Decimal(700)), fat("coconut", "300"), liquid("water", "320"))
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye), at=world.now)
    page = visitor.get("formula", version.formula_id).content.decode().replace("\u00a0", " ")
    first, second = [lot.number for lot in Lot.objects.within(world.workshop).filter(material=lye).order_by("pk")]
    assert f"counted 99.5 % pure: taken from lot {first}: 95 % and lot {second}: 99.5 %; the purest counts" in page
    first, second = [lot.number for lot in Lot.objects.within(world.workshop).filter(material=olive).order_by("pk")]
    assert f"taken from lot {first}: 192 mg KOH per g and lot {second}: 187 mg KOH per g; the lowest counts" in page


def test_what_is_not_here_is_said(world: World, visitor: Visitor) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("50", "95"))
    milk, olive = world.material("Goat's milk", kind="liquid"), stored(world, "Olive oil", "fat", ("400", None))
    world.lot("100", material=milk)
    lines = (
        LineEntry(Role.FAT, material=olive, amount=Decimal(700)),
        fat("coconut", "300"),
        liquid("water", "160"),
        LineEntry(Role.LIQUID, material=milk, amount=Decimal(80), goes_in="front"),
        LineEntry(Role.LIQUID, material=milk, amount=Decimal(80), goes_in="trace"),
    )
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye), at=world.now)
    page = visitor.get("formula", version.formula_id).content.decode().replace("\u00a0", " ")
    assert "300.0 g more than is here" in page
    assert "60.0 g more than is here" in page
    # (133000 + 76950) / 56106 x 39.997 x 0.94 = 140.69 g, of which 50 are here.
    assert "counted 100 % pure, by lot 1: 95 %; 90.6 g more than is here, counted as pure" in page


def test_what_is_typed_beside_what_a_lot_says_is_said(world: World, visitor: Visitor) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("5000", "99.5"))
    olive = stored(world, "Olive oil", "fat", ("5000", "187"), figure="Saponification value")
    lines = (
        LineEntry(Role.FAT, material=olive, amount=Decimal(700), saponification=Decimal(193)),
        fat("coconut", "300"),
        liquid("water", "320"),
    )
    entry = formula_entry(lines=lines, naoh_from=lye, naoh_purity=Decimal("0.95"))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    page = visitor.get("formula", version.formula_id).content.decode().replace("\u00a0", " ")
    assert "counted 99.5 % pure: typed 95 %, lot 1: 99.5 %; the purest counts" in page
    assert "typed 193, lot 2: 187 mg KOH per g; the lowest counts" in page


def test_an_acid_is_weighed_out_in_the_form_it_was_counted_in(world: World, visitor: Visitor) -> None:
    acids = (
        LineEntry(Role.ACID, key="citric", amount=Decimal(15), form="monohydrate"),
        LineEntry(Role.ACID, key="lactic", amount=Decimal(10), strength=Decimal("0.8")),
    )
    entry = formula_entry(lines=(fat("olive", "1000"), liquid("water", "320"), *acids))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    words = visitor.words("formula", version.formula_id).replace("\u00a0", " ")
    assert "citric acid monohydrate 15.0 g" in words
    assert "80 % strong 10.0 g" in words
