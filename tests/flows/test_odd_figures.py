"""A figure of a lot that lies outside what is published lifts no check: a slip of the pen would let lye out."""

from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.flows.stock import record_value
from curehouse.making.formulas.known import figures_of
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from inventory.models import Lot, LotValue
from inventory.services.lots import record_value as write_value
from tests.flows.test_superfats import House, lot
from tests.flows.test_superfats_by_hand import ByHand
from tests.world import World

pytestmark = pytest.mark.django_db


def typed(world: World, row: Lot, name: str, value: str, *, is_read: bool = True) -> LotValue:
    return record_value(
        actor=world.actor, lot=row, name=name, value=Decimal(value), unit="", at=world.now, value_confirmed=is_read
    )


def overdosed(world: World, alkali: str = "Sodium hydroxide", lye_g: str = "180") -> tuple[ByHand, Lot]:
    """Return a batch by hand of 1 kg of olive oil with far too much lye, and the lot of that lye."""
    is_koh = alkali.startswith("Potassium")
    house = ByHand(world, lye_g=Decimal(lye_g), koh_g=Decimal(lye_g) if is_koh else None)
    lye = lot(world, world.material(alkali, kind="lye"), ("Purity", "90")) if is_koh else house.lye
    house.book((house.olive, "1000"), (lye, lye_g))
    return house, lye


@pytest.mark.parametrize(("alkali", "lye_g", "slip"), [("Sodium hydroxide", "180", "69"), ("Potassium hydroxide", "250", "60")])
def test_a_purity_hardly_sold_lifts_no_check(world: World, alkali: str, lye_g: str, slip: str) -> None:
    house, lye = overdosed(world, alkali, lye_g)
    before = house.now()
    assert before.needs_check and before.superfat_low < Decimal("-0.19")
    typed(world, lye, "Purity", slip)
    after = house.now()
    assert after.needs_check
    # The worse of both decides: by what is usual it may be as caustic as before.
    assert after.superfat_low < Decimal("-0.19")
    (told,) = Notice.objects.within(world.workshop).filter(kind="caustic")
    assert told.state == "open"


def test_a_certificate_outside_the_published_range_lifts_no_check(world: World) -> None:
    house, _lye = overdosed(world)
    typed(world, house.olive, "SAP", "245")
    after = house.now()
    assert after.needs_check
    # 180 g of pure NaOH on olive oil of 184 mg KOH per g: 1 - 4.5003 / 3.2795 mol.
    assert float(after.superfat_low) == pytest.approx(-0.37, abs=0.01)


def test_an_odd_figure_alone_makes_the_check_a_condition(world: World) -> None:
    house = House(world)
    batch = house.pour()
    odd = lot(world, house.olive, None)
    typed(world, odd, "SAP", "210")
    house.book(batch, (odd, "700"))
    after = Batch.objects.within(world.workshop).get(pk=batch.pk)
    assert after.superfat_middle > Decimal("0.06")
    assert after.needs_check


def test_a_figure_inside_of_what_is_published_still_settles_it(world: World) -> None:
    house = House(world)
    batch, open_lye = house.pour(), lot(world, house.lye, None)
    house.book(batch, (open_lye, "150.5"))
    assert house.now(batch).needs_check
    typed(world, open_lye, "Purity", "96.5", is_read=False)
    assert not house.now(batch).needs_check


@pytest.mark.parametrize(
    ("material", "kind", "name", "value", "words"),
    [
        ("Sodium hydroxide", "lye", "Purity", "69", "95"),
        ("Sodium hydroxide", "lye", "Assay", "94.9", "95"),
        ("Potassium hydroxide", "lye", "Purity", "70", "85"),
        ("Natronlauge, Perlen", "lye", "Gehalt", "84", "95"),
        ("Olive oil", "fat", "SAP", "245", "184 to 196"),
        ("Olive oil", "fat", "Saponification value", "150", "184 to 196"),
    ],
)
def test_an_odd_figure_is_asked_about_before_it_is_kept(  # noqa: PLR0913 - a table of cases
    world: World, material: str, kind: str, name: str, value: str, words: str
) -> None:
    row = lot(world, world.material(material, kind=kind), None)
    with pytest.raises(Conflict, match=words) as refused:
        typed(world, row, name, value, is_read=False)
    assert (refused.value.code, refused.value.field) == ("value_doubtful", "value")
    assert not LotValue.objects.within(world.workshop).filter(lot=row).exists()
    typed(world, row, name, value)
    assert LotValue.objects.within(world.workshop).get(lot=row).value == Decimal(value)


@pytest.mark.parametrize(
    ("material", "kind", "name", "value"),
    [
        ("Sodium hydroxide", "lye", "Purity", "95"),
        ("Potassium hydroxide", "lye", "Purity", "85"),
        ("Olive oil", "fat", "SAP", "183.5"),
        ("Olive oil", "fat", "Peroxide value", "12"),
        ("Bucket from the fair", "fat", "SAP", "245"),
    ],
)
def test_a_usual_figure_is_kept_at_once(world: World, material: str, kind: str, name: str, value: str) -> None:
    row = lot(world, world.material(material, kind=kind), None)
    assert typed(world, row, name, value, is_read=False).value == Decimal(value)


@pytest.mark.parametrize(
    ("material", "kind", "name", "value", "unit", "counted"),
    [
        ("Goat's milk", "liquid", "Fat", "41", "g/kg", "4.1"),
        ("Goat's milk", "liquid", "Fat", "4.1", "g / 100 g", "4.1"),
        ("Olive oil", "fat", "SAP", "0.19", "g KOH/g", "190"),
        ("Olive oil", "fat", "SAP", "190", "MG KOH/G", "190"),
        ("Sodium hydroxide", "lye", "Purity", "98.5", "% w/w", "98.5"),
    ],
)
def test_a_figure_in_a_known_unit_is_converted(  # noqa: PLR0913 - a table of cases
    world: World, material: str, kind: str, name: str, value: str, unit: str, counted: str
) -> None:
    row = lot(world, world.material(material, kind=kind), None)
    record_value(actor=world.actor, lot=row, name=name, value=Decimal(value), unit=unit, at=world.now)
    (figure,) = figures_of(world.workshop, [row])[row.pk].figures.values()
    assert figure == Decimal(counted)


@pytest.mark.parametrize(
    ("material", "kind", "name", "value", "unit"),
    [
        ("Goat's milk", "liquid", "Fat", "14", "g/l"),
        ("Olive oil", "fat", "SAP", "190", "%"),
        ("Olive oil", "fat", "SAP", "135", "mg NaOH/g"),
        ("Sodium hydroxide", "lye", "Purity", "98", "g/l"),
    ],
)
def test_a_figure_in_an_unknown_unit_is_refused_and_an_older_one_is_not_counted(  # noqa: PLR0913 - a table of cases
    world: World, material: str, kind: str, name: str, value: str, unit: str
) -> None:
    row = lot(world, world.material(material, kind=kind), None)
    asked = {"actor": world.actor, "lot": row, "name": name, "value": Decimal(value), "unit": unit, "at": world.now}
    with pytest.raises(Invalid, match="type it in") as refused:
        record_value(**asked)
    assert (refused.value.code, refused.value.field) == ("unit", "unit")
    old = write_value(**asked)
    known = figures_of(world.workshop, [row])[row.pk]
    assert (known.figures, known.odd) == ({}, (old,))
