"""A workshop's own liquids: what they are, what they bring, and what is said where nothing is known of them."""

from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.finding import Finding, Level
from curehouse.core.chemistry.findings import Judged
from curehouse.making.formulas.entries import GoesIn, LineEntry, Per, Role
from curehouse.making.models import MaterialFacts
from curehouse.making.services.facts import FactsEntry, write_facts
from curehouse.making.services.formulas import judged, plan
from inventory.models import Material
from inventory.services.lots import record_value
from tests.formulas import FATS, LIQUIDS, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db

WATER = liquid("water", "150")


def own(world: World, name: str = "Ewe's first milk", **facts: Any) -> Material:
    material = world.material(name, kind="liquid")
    write_facts(material=material, entry=FactsEntry(**facts))
    return material


def found(world: World, *lines: LineEntry, **changes: Any) -> Judged:
    return judged(plan(workshop=world.workshop, entry=formula_entry(lines=(*FATS, *lines), **changes), at=world.now))


def rest(material: Material, goes_in: str = GoesIn.TRACE) -> LineEntry:
    return liquid("", None, Per.REST, goes_in, material=material)


def codes(one: Judged) -> dict[str, Finding]:
    return {finding.code: finding for finding in one.findings}


def test_an_own_milk_counts_as_milk_and_its_sugar_heats(world: World) -> None:
    ewe = own(
        world, liquid_kind="milk", water_fraction=Decimal("0.80"), fat_fraction=Decimal("0.08"), sugar_fraction=Decimal("0.05")
    )
    one = found(world, WATER, rest(ewe))
    assert one.figures is not None
    assert one.figures.milk_share == pytest.approx(170 / 320)
    said = codes(one)
    assert said["sugar_heats_trace"].figures["sugar_g"] == pytest.approx(170 * 0.05)
    assert "sugar_heats_front" in codes(found(world, rest(ewe, GoesIn.FRONT)))
    assert said["allergens"].figures["names"] == "coconut, milk"
    # Its fat takes lye as the milks of the list do: 13.6 g of it at about 231 mg KOH per g.
    assert one.figures.superfat.effective.middle > one.figures.superfat.of_fats.middle + 0.01
    assert not {"liquid_unknown", "liquid_part_unknown"} & set(said)


def test_sugar_alone_brings_the_cold_procedure(world: World) -> None:
    nectar = own(world, "Nectar", water_fraction=Decimal("0.86"), fat_fraction=Decimal(0), sugar_fraction=Decimal("0.12"))
    one = found(world, WATER, rest(nectar))
    assert codes(one)["sugar_heats_trace"].figures["sugar_g"] == pytest.approx(20.4)
    assert one.figures is not None
    assert one.figures.milk_g == 0


def test_a_lot_says_its_own_sugar(world: World) -> None:
    ewe = own(world, liquid_kind="milk", water_fraction=Decimal("0.80"), sugar_fraction=Decimal("0.05"))
    lot = world.lot("2000", material=ewe)
    record_value(actor=world.actor, lot=lot, name="Lactose", value=Decimal("6.2"), unit="%", at=world.now)
    assert codes(found(world, WATER, rest(ewe)))["sugar_heats_trace"].figures["sugar_g"] == pytest.approx(170 * 0.062)


def test_thickeners_are_asked_of_an_own_plant_milk(world: World) -> None:
    oat = own(world, "Oat milk", liquid_kind="plant_milk", water_fraction=Decimal("0.9"))
    assert "plant_milk_thickener_open" in codes(found(world, WATER, rest(oat)))
    write_facts(material=oat, entry=FactsEntry(liquid_kind="plant_milk", water_fraction=Decimal("0.9"), is_thickened=True))
    assert "plant_milk_thickened" in codes(found(world, WATER, rest(oat)))


def test_an_own_powder_counts_as_no_liquid_and_makes_milk_of_water(world: World) -> None:
    powder = own(
        world, "Kid powder", liquid_kind="powder", water_fraction=Decimal("0.03"), fat_fraction=Decimal("0.27"),
        sugar_fraction=Decimal("0.38"),
    )  # fmt: skip
    one = found(world, liquid("water", "320"), liquid("", "20", goes_in=GoesIn.TRACE, material=powder))
    assert one.figures is not None
    assert one.figures.liquid_g == 320
    assert one.figures.milk_g == pytest.approx(20 * (1 / 0.12 - 1))
    with pytest.raises(Invalid, match="say its amount in another way"):
        found(world, WATER, rest(powder))


def test_what_is_as_good_as_water_needs_no_figures(world: World) -> None:
    one = found(world, WATER, rest(own(world, "Nettle tea", liquid_kind="water")))
    assert one.figures is not None
    assert one.figures.free_water_g.middle == pytest.approx(320)
    assert not {"liquid_unknown", "liquid_part_unknown"} & set(codes(one))


def test_of_what_nothing_is_known_counts_as_water_and_that_is_said(world: World) -> None:
    brew = world.material("Brew", kind="liquid")
    at_trace = codes(found(world, WATER, rest(brew)))["liquid_unknown"]
    assert (at_trace.level, at_trace.needs_confirming) == (Level.WARNING, False)
    said = {"name": "Brew", "parts": "water, fat and sugar", "counted": "water", "liquid_share": 170 / 320}
    assert at_trace.figures == said
    # In front it is what the lye must dissolve in: a person says that it was read.
    in_front = found(world, rest(brew, GoesIn.FRONT))
    assert codes(in_front)["liquid_unknown"].needs_confirming
    assert in_front.figures is not None
    assert in_front.figures.front_water_g == 320


def test_what_is_only_known_to_be_milk_counts_as_cows(world: World) -> None:
    one = found(world, WATER, rest(own(world, "Mare's milk", liquid_kind="milk")))
    said = codes(one)
    assert said["liquid_unknown"].figures["counted"] == "cow's milk, whole"
    assert said["sugar_heats_trace"].figures["sugar_g"] == pytest.approx(170 * 0.0478)
    assert one.figures is not None
    assert one.figures.milk_share == pytest.approx(170 / 320)


def test_parts_that_are_missing_are_named(world: World) -> None:
    ale = own(world, "Ale", water_fraction=Decimal("0.92"))
    said = codes(found(world, WATER, rest(ale)))
    assert said["liquid_part_unknown"].figures == {"name": "Ale", "parts": "fat and sugar", "counted": "none"}
    assert said["liquid_part_unknown"].level is Level.NOTE
    assert "liquid_unknown" not in said


def test_the_fat_of_another_liquid_says_what_it_takes(world: World) -> None:
    with pytest.raises(Invalid, match="How much lye the fat of Broth takes"):
        found(world, WATER, rest(own(world, "Broth", water_fraction=Decimal("0.9"), fat_fraction=Decimal("0.05"))))
    broth = own(
        world, "Other broth", water_fraction=Decimal("0.9"), fat_fraction=Decimal("0.05"), saponification_low=Decimal(190),
        saponification_high=Decimal(200),
    )  # fmt: skip
    one = found(world, WATER, rest(broth))
    assert one.figures is not None
    assert one.figures.superfat.effective.middle > one.figures.superfat.of_fats.middle


@pytest.mark.parametrize(
    ("facts", "says"),
    [
        ({"liquid_kind": "mead"}, "choose one of"),
        ({"sugar_fraction": Decimal("1.2")}, "The sugar lies between 0"),
        ({"water_fraction": Decimal("0.9"), "sugar_fraction": Decimal("0.2")}, "make more than 100"),
    ],
)
def test_figures_that_cannot_be_are_refused(world: World, facts: dict[str, Any], says: str) -> None:
    with pytest.raises(Invalid, match=says):
        own(world, **facts)
    assert not MaterialFacts.objects.within(world.workshop).exists()


def test_a_fat_is_no_liquid(world: World) -> None:
    with pytest.raises(Invalid, match="Only a liquid"):
        write_facts(material=world.material("Olive oil"), entry=FactsEntry(liquid_kind="milk"))


def test_a_liquid_of_the_list_is_known_whole(world: World) -> None:
    assert not {"liquid_unknown", "liquid_part_unknown"} & set(codes(found(world, *LIQUIDS)))


def allergens(world: World, *lines: LineEntry) -> object:
    olive_alone = (LineEntry(Role.FAT, key="olive", amount=Decimal(1000)),)
    entry = formula_entry(lines=(*olive_alone, liquid("water", "320"), *lines))
    finding = codes(judged(plan(workshop=world.workshop, entry=entry, at=world.now))).get("allergens")
    return None if finding is None else finding.figures["names"]


def extra(role: str, name: str = "", **more: Any) -> LineEntry:
    return LineEntry(role, name=name, amount=Decimal(10), **more)


def test_whatever_goes_in_names_its_allergens(world: World) -> None:
    scent = world.material("Summer scent", kind="fragrance")
    write_facts(material=scent, entry=FactsEntry(allergen="linalool, Limonene;  Linalool"))
    dye = world.material("Cheese orange", kind="colour")
    write_facts(material=dye, entry=FactsEntry(allergen="milk"))
    assert allergens(world) is None
    assert allergens(world, extra(Role.FRAGRANCE, material=scent)) == "Limonene, linalool"
    assert allergens(world, extra(Role.COLOUR, material=dye)) == "milk"
    both = (extra(Role.FRAGRANCE, material=scent), extra(Role.COLOUR, material=dye))
    assert allergens(world, *both) == "Limonene, linalool, milk"


def test_a_fat_or_a_milk_names_its_allergen_whatever_it_goes_in_as(world: World) -> None:
    almond = world.material("Almond oil, sweet", kind="fat")
    write_facts(material=almond, entry=FactsEntry(key="almond"))
    assert allergens(world, extra(Role.ADDITIVE, material=almond)) == "almond"
    goat = world.material("Goat's milk", kind="liquid")
    assert allergens(world, extra(Role.ADDITIVE, material=goat)) == "milk"
    mare = own(world, "Mare's milk", liquid_kind="milk")
    assert allergens(world, extra(Role.ADDITIVE, material=mare)) == "milk"
    powder = world.material("Buttermilk powder", kind="additive")
    assert allergens(world, extra(Role.ADDITIVE, material=powder)) == "milk"


def test_what_is_named_by_hand_and_called_like_a_row_of_the_list_names_its_allergen(world: World) -> None:
    assert allergens(world, extra(Role.ADDITIVE, "buttermilk powder")) == "milk"
    assert allergens(world, extra(Role.ADDITIVE, "oat flour")) is None
