"""Materials and suppliers: each by one name, in one measure."""

from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from inventory.models import Material, Supplier
from inventory.services.movements import write_off
from inventory.services.things import (
    MaterialEntry,
    SupplierEntry,
    edit_material,
    edit_supplier,
    retire_material,
    retire_supplier,
    take_up_material,
    take_up_supplier,
    write_material,
    write_supplier,
)
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("kind", "measure"),
    [
        ("fat", "grams"), ("lye", "grams"), ("liquid", "grams"), ("additive", "grams"), ("fragrance", "grams"),
        ("colour", "grams"), ("packaging", "pieces"), ("bars", "pieces"),
    ],
)  # fmt: skip
def test_the_kind_says_whether_a_material_is_weighed_or_counted(world: World, kind: str, measure: str) -> None:
    assert write_material(workshop=world.workshop, entry=MaterialEntry("Something", kind)).measure == measure


def test_the_maker_may_say_otherwise(world: World) -> None:
    paper = write_material(workshop=world.workshop, entry=MaterialEntry("Wrapping tissue", "packaging", measure="grams"))
    assert paper.measure == "grams"


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        (MaterialEntry("  ", "fat"), "name"),
        (MaterialEntry("x" * 121, "fat"), "name"),
        (MaterialEntry("Olive\x00oil", "fat"), "name"),
        (MaterialEntry("Olive oil", "oil"), "kind"),
        (MaterialEntry("Olive oil", "fat", measure="litres"), "measure"),
    ],
)
def test_a_material_that_cannot_be_right_is_answered_in_words(world: World, entry: MaterialEntry, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        write_material(workshop=world.workshop, entry=entry)
    assert refused.value.field == field
    assert not Material.objects.within(world.workshop).exists()


def test_a_name_is_given_once_however_its_letters_are_written(world: World, stranger: World) -> None:
    other = world.material("Coconut oil")
    world.material("Olive oil")
    stranger.material("Olive oil")
    with pytest.raises(Conflict, match="a material called OLIVE oil already"):
        write_material(workshop=world.workshop, entry=MaterialEntry("OLIVE oil", "fat"))
    with pytest.raises(Conflict) as refused:
        edit_material(material=other, entry=MaterialEntry("olive  oil", "fat"))
    assert refused.value.field == "name"
    other.refresh_from_db()
    assert other.name == "Coconut oil"


def test_grams_stay_grams_once_there_are_lots(world: World) -> None:
    material = world.material("Tissue", kind="packaging")
    edit_material(material=material, entry=MaterialEntry("Tissue", "packaging", measure="grams"))
    lot = world.lot(material=Material.objects.within(world.workshop).get())
    with pytest.raises(Conflict, match="has lots in grams"):
        edit_material(material=lot.material, entry=MaterialEntry("Tissue", "packaging", measure="pieces"))
    changed = edit_material(material=lot.material, entry=MaterialEntry("Silk tissue", "additive", measure="grams"))
    assert (changed.name, changed.kind) == ("Silk tissue", "additive")


def test_a_material_with_stock_is_not_retired_from_under_it(world: World) -> None:
    lot = world.lot("400")
    with pytest.raises(Conflict, match="Olive oil, lot 1 still holds something"):
        retire_material(material=lot.material, at=world.now)
    write_off(actor=world.actor, lot=lot, amount=Decimal(400), reason="rancid", moment=world.now, at=world.now)
    retire_material(material=lot.material, at=world.now)
    rows = Material.objects.within(world.workshop)
    assert not rows.in_use().exists()
    world.material("Zinc-free colour", kind="colour")
    assert [one.name for one in rows.in_use_first()] == ["Zinc-free colour", "Olive oil"]
    take_up_material(material=lot.material)
    assert rows.in_use().count() == 2


def test_a_supplier_is_written_changed_retired_and_taken_up(world: World) -> None:
    entry = SupplierEntry(" Brook  Mill ", "orders@brookmill.example", "Closed in August.\n\nAsk for Tom. ")
    supplier = write_supplier(workshop=world.workshop, entry=entry)
    assert (supplier.name, supplier.note) == ("Brook Mill", "Closed in August.\n\nAsk for Tom.")
    with pytest.raises(Conflict, match="a supplier called brook mill already"):
        write_supplier(workshop=world.workshop, entry=SupplierEntry("brook mill"))
    edit_supplier(supplier=supplier, entry=SupplierEntry("Brook Mill & Sons"))
    rows = Supplier.objects.within(world.workshop)
    assert rows.called("brook mill & sons") == supplier
    retire_supplier(supplier=supplier, at=world.now)
    assert (list(rows.in_use()), list(rows.in_use_first())) == ([], [supplier])
    take_up_supplier(supplier=supplier)
    assert list(rows.in_use()) == [supplier]


@pytest.mark.parametrize(
    ("entry", "field"),
    [
        (SupplierEntry(""), "name"),
        (SupplierEntry("Brook Mill", contact="x" * 401), "contact"),
        (SupplierEntry("Brook Mill", contact="a\x07b"), "contact"),
        (SupplierEntry("Brook Mill", note="x" * 4001), "note"),
        (SupplierEntry("Brook Mill", note="a\x00b"), "note"),
    ],
)
def test_a_supplier_that_cannot_be_right_is_answered_in_words(world: World, entry: SupplierEntry, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        write_supplier(workshop=world.workshop, entry=entry)
    assert refused.value.field == field
