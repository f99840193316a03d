"""What a fat or a liquid is by its name, and where its name does not say so."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.formulas.known import key_by_name
from curehouse.making.formulas.names import key_called
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import FormulaLine
from curehouse.making.services.formulas import check_formula, judged, plan, write_formula, write_version
from tests.formulas import FATS, LIQUIDS, READ, fat, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("name", "kind", "key"),
    [
        ("Shea butter", "fat", "shea"),
        ("Goat’s milk, frozen", "liquid", "goat_milk"),
        ("olive oil", "fat", "olive"),
        # Takes less lye than olive oil, and is no kind of it.
        ("Olive oil, pomace", "fat", "olive_pomace"),
        ("Olive oil, extra virgin", "fat", "olive"),
        ("Sunflower oil", "fat", "sunflower"),
        ("Sunflower oil, High oleic", "fat", "sunflower_high_oleic"),
        # Whole, of 2 % fat, or skimmed: which one it is has to be said.
        ("Cow's milk", "liquid", ""),
        ("Olive oil", "fragrance", ""),
        ("Mystery", "fat", ""),
        ("Extra virgin olive oil", "fat", "olive"),
        ("Canola oil", "fat", "rapeseed"),
        # Of low or high erucic acid: 182 to 193 or 168 to 181 mg KOH per g.
        ("Rapeseed oil", "fat", ""),
        ("Rapeseed oil, refined", "fat", ""),
        ("Rapeseed oil, high erucic", "fat", "rapeseed_high_erucic"),
        ("Stearic acid", "fat", "stearic_acid"),
        ("Beeswax pellets", "fat", "beeswax"),
        ("Goat's milk, powder", "liquid", "goat_powder"),
        ("Powdered goat’s milk, organic", "liquid", "goat_powder"),
        ("Buttermilk, dried", "liquid", "buttermilk_powder"),
        ("Sheep's milk, powder", "liquid", ""),
        ("Yogurt, powder", "liquid", ""),
        ("Yogurt", "liquid", "yogurt"),
        ("Goat milk, fresh", "liquid", "goat_milk"),
        ("Cow's milk, whole, frozen", "liquid", "cow_milk"),
        ("Distilled water", "liquid", "water"),
        ("Olive oil, unsaponifiables", "fat", ""),
        ("Palm oil, wax", "fat", ""),
        ("Soya oil, wax", "fat", ""),
        ("Soya oil, flakes", "fat", ""),
        ("Castor oil, sulfated", "fat", ""),
        ("Coconut oil, MCT", "fat", ""),
        ("Coconut oil, fractionated", "fat", ""),
        ("Coconut oil, hydrogenated", "fat", ""),
    ],
)
def test_a_material_is_known_by_its_name_where_only_one_is_called_so(world: World, name: str, kind: str, key: str) -> None:
    assert key_by_name(world.material(name, kind=kind)) == key


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("Rapeseed oil", "perhaps “rapeseed oil (canola)” or “rapeseed oil, high erucic”"),
        ("Coconut oil, MCT", "perhaps “coconut oil”"),
        ("Olive oil, unsaponifiables", "perhaps “olive oil”"),
        ("Olve oil", "perhaps “olive oil”"),
    ],
)
def test_a_fat_whose_name_says_no_row_is_asked_about_with_the_names_that_are_near(world: World, name: str, near: str) -> None:
    for one in (fat("", "1000", name=name), fat("", "1000", material=world.material(name))):
        entry = formula_entry(lines=(one, *LIQUIDS))
        with pytest.raises(Invalid, match="is not known") as refused:
            check_formula(workshop=world.workshop, entry=entry, at=world.now)
        assert near in refused.value.message


def test_a_fat_named_without_a_row_is_the_one_that_is_called_so(world: World) -> None:
    entry = formula_entry(lines=(fat("", "1000", name="Extra virgin olive oil"), *LIQUIDS))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    assert FormulaLine.objects.within(world.workshop).get(version=version, role="fat").key == "olive"


def test_milk_powder_by_its_name_brings_no_water_and_is_milk_on_the_label(world: World) -> None:
    powder = world.material("Sheep's milk, powder", kind="liquid")
    entry = formula_entry(lines=(*FATS, liquid("", "150", material=powder)), liquid=Decimal(150))
    with pytest.raises(Invalid) as refused:
        check_formula(workshop=world.workshop, entry=entry, at=world.now)
    assert refused.value.code == "no_liquid"
    lines = (*FATS, *LIQUIDS, liquid("", "30", material=powder))
    planned = plan(workshop=world.workshop, entry=formula_entry(lines=lines), at=world.now)
    assert "milk" in planned.formula.allergens
    assert [one.kind for one in planned.formula.liquids][-1] == "powder"


@pytest.mark.parametrize("rows", [fat_kinds(), liquid_kinds()])
def test_every_row_of_the_list_is_found_by_its_own_name(rows: Any) -> None:
    assert [key_called(row.name, rows) for row in rows.values()] == list(rows)


ENOUGH = (liquid("water", "200"), LIQUIDS[1])
CALLED_OLIVE = fat("coconut", "1000", name="Olive oil")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (CALLED_OLIVE, "called like olive oil (184 to 196 mg KOH per g), and counts as coconut oil (248 to 265"),
        (fat("olive", "1000", name="Beeswax pellets"), "called like beeswax (a wax) (87 to 104 mg KOH per g)"),
        (liquid("water", "320", name="Goat's milk"), "called like goat's milk (87.03\u00a0% water), and counts as water"),
        (liquid("goat_milk", "320", name="Goat's milk, powder"), "called like goat's milk powder, whole"),
        (liquid("sheep_milk", "320", name="Sheep's milk, powder"), "called like a powder"),
    ],
)
def test_a_name_that_says_another_row_is_asked_about_with_both_figures_and_wants_the_check(
    world: World, line: LineEntry, says: str
) -> None:
    lines = (line, *ENOUGH) if line.role == Role.FAT else (*FATS, line)
    entry = formula_entry(lines=lines)
    with pytest.raises(Conflict) as asked:
        write_formula(actor=world.actor, entry=entry, at=world.now)
    assert asked.value.code == "formula_unconfirmed"
    assert says in asked.value.message
    (read,) = [one for one in asked.value.data["confirm"] if one.startswith("name_says_other:")]
    version = write_formula(actor=world.actor, entry=replace(entry, confirmed=(*READ, read)), at=world.now)
    assert read in version.confirmed
    assert judged(plan(workshop=world.workshop, entry=entry, at=world.now)).needs_check
    # Another row than the one that was read is asked about anew.
    other = replace(line, key="lard" if line.role == Role.FAT else "buttermilk")
    changed = replace(entry, lines=(other, *ENOUGH) if line.role == Role.FAT else (*FATS, other), confirmed=(*READ, read))
    with pytest.raises(Conflict):
        write_version(actor=world.actor, formula=version.formula, entry=changed, at=world.now)


def test_the_superfat_is_told_that_a_name_would_make_of_it(world: World) -> None:
    with pytest.raises(Conflict, match="If it is what it is called, the superfat is −") as asked:
        check_formula(workshop=world.workshop, entry=formula_entry(lines=(CALLED_OLIVE, *ENOUGH)), at=world.now)
    assert "caustic" in asked.value.message


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (LineEntry(Role.ADDITIVE, name="Citric acid", amount=Decimal(20)), "acid_beside"),
        (liquid("", "20", name="Vinegar 5 %", goes_in="trace", water_fraction=Decimal("0.95")), "acid_beside"),
        (liquid("", "20", name="Lemon juice", goes_in="trace", water_fraction=Decimal("0.92")), "acid_beside"),
    ],
)
def test_an_acid_that_is_counted_as_none_is_told_with_what_it_eats(world: World, line: LineEntry, code: str) -> None:
    entry = formula_entry(lines=(*FATS, *LIQUIDS, line))
    check_formula(workshop=world.workshop, entry=entry, at=world.now)
    found = judged(plan(workshop=world.workshop, entry=entry, at=world.now)).findings
    assert code in [one.code for one in found]


@pytest.mark.parametrize("name", ["Sodium citrate", "Sodium lactate", "Stearic acid", "Lemon peel", "Baking soda"])
def test_what_is_no_acid_and_no_alkali_is_not_told_of(world: World, name: str) -> None:
    line = LineEntry(Role.ADDITIVE, name=name, amount=Decimal(20))
    entry = formula_entry(lines=(*FATS, *LIQUIDS, line))
    found = judged(plan(workshop=world.workshop, entry=entry, at=world.now)).findings
    assert not {"acid_beside", "alkali_beside"} & {one.code for one in found}


def test_potash_beside_the_lye_is_asked_about(world: World) -> None:
    line = LineEntry(Role.ADDITIVE, name="Soda ash", amount=Decimal(20))
    with pytest.raises(Conflict, match="Soda ash is an alkali"):
        check_formula(workshop=world.workshop, entry=formula_entry(lines=(*FATS, *LIQUIDS, line)), at=world.now)


def test_in_a_line_the_material_says_what_it_is(world: World) -> None:
    line = fat("coconut", "1000", material=world.material("Olive oil"))
    with pytest.raises(Invalid) as refused:
        check_formula(workshop=world.workshop, entry=formula_entry(lines=(line, *LIQUIDS)), at=world.now)
    assert refused.value.code == "other_key"
    assert "olive oil (184 to 196" in refused.value.message
    assert "coconut oil (248 to 265" in refused.value.message
