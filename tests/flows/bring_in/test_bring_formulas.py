"""Formulas and materials come in from lists: whole or not at all, once."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Formula, FormulaVersion, MaterialFacts
from curehouse.making.services.formulas import judged, plan
from inventory.models import Material
from tests.flows.bring_in.logs import write_csv
from tests.world import World

pytestmark = pytest.mark.django_db

HEAD = ("Recipe", "Ingredient", "Type", "Amount", "Goes in", "Superfat")
GOAT = (
    ("Goat's milk", "Olive oil", "oil", "700 g", "", "8 %"),
    ("Goat's milk", "Coconut oil", "", "300 g", "", ""),
    ("Goat's milk", "NaOH", "", "137 g", "", ""),
    ("Goat's milk", "Water", "", "150 g", "front", ""),
    ("Goat's milk", "Goat’s milk", "", "170 g", "trace", ""),
    ("Goat's milk", "Oat flour", "additive", "20 g", "", ""),
)
MATERIALS = ("Material", "Kind", "In the list", "Saponification low", "Saponification high", "Fat %", "Maximum", "Source")


def without_front(row: tuple[str, ...]) -> tuple[str, ...]:
    return tuple("" if cell == "front" else cell for cell in row)


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def bring(world: World, kind: str, given: FileGiven, **told: Any) -> Outcome:
    options = first_options(world.actor, kind_called(kind), given.path, None, Options(**told))
    return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


def formulas(world: World, folder: Path, *rows: tuple[str, ...], head: tuple[str, ...] = HEAD) -> Outcome:
    return bring(world, "formulas", write_csv(folder / "formulas.csv", head, rows))


def materials(world: World, folder: Path, *rows: tuple[str, ...]) -> Outcome:
    return bring(world, "materials", write_csv(folder / "materials.csv", MATERIALS, rows))


@pytest.mark.parametrize(
    ("lye", "says"),
    [
        ("150 g", "the file has 150.0 g of lye, and 137.6 g are worked out: the file has 9.0\u00a0% more. It may be too much"),
        ("120 g", "the file has 120.0 g of lye, and 137.6 g are worked out: the file has 12.8\u00a0% less."),
        ("15 %", "the file has 150.0 g of lye, and 137.6 g are worked out: the file has 9.0\u00a0% more. It may be too much"),
        ("137.2 g", "the file has 137.2 g of lye, and 137.6 g are worked out: the same."),
    ],
)
@pytest.mark.parametrize("superfat", ["8 %", "3 %"])
def test_the_files_own_lye_is_held_against_what_is_worked_out(
    world: World, tmp_path: Path, lye: str, says: str, superfat: str
) -> None:
    rows = [(*row[:3], lye, *row[4:]) if row[1] == "NaOH" else row for row in GOAT]
    rows[0] = (*rows[0][:5], superfat)
    remarks = [one for one in formulas(world, tmp_path, *rows).remarks if one.startswith("Goat's milk: the file has")]
    assert len(remarks) == 1
    if superfat == "8 %":
        assert says in remarks[0]
    # Also where a person has to read it first, and it is left out.
    assert ("are worked out" in remarks[0]) is True


def test_a_formula_comes_in_with_its_lines_and_its_lye_is_worked_out(world: World, tmp_path: Path) -> None:
    outcome = formulas(world, tmp_path, *GOAT)
    assert (outcome.adds["formulas"], outcome.refused_rows) == (1, 0), outcome
    assert "Lye is worked out" in outcome.remarks[0]
    version = FormulaVersion.objects.within(world.workshop).select_related("formula").get()
    lines = [(line.role, line.name, line.amount, line.goes_in) for line in kept(version).lines]
    assert lines == [
        ("fat", "Olive oil", 700, ""),
        ("fat", "Coconut oil", 300, ""),
        ("liquid", "Water", 150, "front"),
        ("liquid", "Goat’s milk", 170, "trace"),
        ("additive", "Oat flour", 20, ""),
    ]
    figures = judged(plan(workshop=world.workshop, entry=kept(version).entry, at=world.now)).figures
    assert figures is not None
    assert figures.lye_g == 137.6


def test_the_same_list_twice_adds_nothing(world: World, tmp_path: Path) -> None:
    formulas(world, tmp_path, *GOAT)
    again = formulas(
        world, tmp_path, *GOAT, ("Plain", "olive oil", "", "1000 g", "", "8"), ("Plain", "water", "", "300 g", "", "")
    )
    assert (again.adds["formulas"], again.known["formulas"]) == (1, 1)
    third = formulas(world, tmp_path, *GOAT)
    assert third.adds_nothing
    assert Formula.objects.within(world.workshop).count() == 2


def test_shares_come_in_with_the_size_of_the_batch(world: World, tmp_path: Path) -> None:
    head = ("Formula", "Material", "Amount", "Superfat", "All fats")
    rows = (
        ("Plain", "olive oil", "70 %", "0.08", "1000 g"),
        ("Plain", "coconut oil", "30 %", "", ""),
        ("Plain", "water", "32 %", "", ""),
    )
    assert formulas(world, tmp_path, *rows, head=head).adds["formulas"] == 1
    version = FormulaVersion.objects.within(world.workshop).get()
    assert (version.fats_g, version.liquid_share, version.superfat) == (1000, Decimal("0.32"), Decimal("0.08"))


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ((("Plain", "mink oil", "fat", "1000 g", "", "8"), ("Plain", "water", "", "300 g", "", "")), "is no fat of the list"),
        ((("Plain", "stardust", "", "1000 g", "", "8"),), "is not known here"),
        ((("Plain", "olive oil", "", "1000 g", "", ""), ("Plain", "water", "", "300 g", "", "")), "5 % is usual"),
        ((("Plain", "olive oil", "", "1000 g", "", "0.4"), ("Plain", "water", "", "300 g", "", "")), "read two ways"),
        ((("Plain", "olive oil", "", "1000 g", "", "8"),), "needs its liquids"),
        ((("Plain", "olive oil", "", "much", "", "8"),), "is no number"),
        ((("Plain", "olive oil", "", "1000 g", "", "8"), ("Plain", "water", "", "60 g", "", "")), "cannot all dissolve"),
        ((("Plain", "olive oil", "", "900 g", "", "8"), ("Plain", "coconut oil", "", "100 g", "", "5 %")), "than row 8 says"),
        ((("Plain", "olive oil", "", "1000 g", "", "8"), ("Plain", "KOH", "", "20 g", "", "")), "is potassium hydroxide"),
        (
            (
                ("Plain", "olive oil", "", "1000 g", "", "8"),
                ("Plain", "water", "", "330 g", "", ""),
                ("Plain", "sodium hydroxide", "additive", "128,6 g", "", ""),
            ),
            "lye is worked out from the fats",
        ),
        ((("Plain", "Natronlauge", "liquid", "30 g", "front", "8"),), "is no liquid of the list"),
        ((("Plain", "Potassium hydroxide 90 %", "lye", "20 g", "", "8"),), "or write it by hand"),
        (
            (("Plain", "olive oil", "", "1000 g", "", "8"), ("Plain", "Ätzkali", "lauge", "20 g", "", "")),
            "is potassium hydroxide",
        ),
        ((("Plain", "olive oil", "", "60 %", "", "8"), ("Plain", "water", "", "30 %", "", "")), "mass of all fats"),
    ],
)
def test_a_row_that_cannot_be_is_named_and_nothing_comes_in(
    world: World, tmp_path: Path, rows: tuple[tuple[str, ...], ...], why: str
) -> None:
    outcome = formulas(world, tmp_path, *GOAT, *rows)
    assert outcome.refused_rows
    assert why in " ".join(one.why for one in outcome.refusals)
    assert not Formula.objects.within(world.workshop).exists()


def test_two_sizes_of_one_formula_are_refused_and_its_notes_are_all_kept(world: World, tmp_path: Path) -> None:
    head = ("Formula", "Material", "Amount", "Superfat", "All fats", "Note")
    rows = [
        ("Plain", "olive oil", "70 %", "0.08", "1000 g", "strain it"),
        ("Plain", "coconut oil", "30 %", "8 %", "900 g", "strain it"),
        ("Plain", "water", "32 %", "", "", "cold"),
    ]
    outcome = formulas(world, tmp_path, *rows, head=head)
    (refusal,) = outcome.refusals
    assert "another mass of all fats of Plain than row 2 says" in refusal.why
    rows[1] = ("Plain", "coconut oil", "30 %", "8 %", "1 kg", "strain it")
    assert formulas(world, tmp_path, *rows, head=head).adds["formulas"] == 1
    assert FormulaVersion.objects.within(world.workshop).get().note == "strain it\ncold"


def test_a_share_of_potassium_hydroxide_is_refused_and_its_salts_are_additions(world: World, tmp_path: Path) -> None:
    head = ("Formula", "Material", "Amount", "Superfat", "Of the lye NaOH, %")
    rows = [("Plain", "olive oil", "1000 g", "8 %", "95"), ("Plain", "water", "320 g", "", "")]
    refusals = formulas(world, tmp_path, *rows, head=head).refusals
    assert "the purity of this one is missing" in refusals[0].why
    rows[0] = ("Plain", "olive oil", "1000 g", "8 %", "100 %")
    assert formulas(world, tmp_path, *rows, head=head).adds["formulas"] == 1
    salt = (*GOAT, ("Goat's milk", "Potassium sorbate", "additive", "2 g", "", ""))
    assert formulas(world, tmp_path, *salt).adds["formulas"] == 1


def test_lye_of_the_storeroom_is_lye_and_not_an_addition(world: World, tmp_path: Path) -> None:
    world.material("Caustic pearls", kind="lye")
    rows = [(row[0], "Caustic pearls" if row[1] == "NaOH" else row[1], *row[2:]) for row in GOAT]
    outcome = formulas(world, tmp_path, *rows)
    assert (outcome.adds["formulas"], "Lye is worked out" in outcome.remarks[0]) == (1, True)


def test_what_a_person_has_to_read_first_stays_out_and_is_named(world: World, tmp_path: Path) -> None:
    caustic = tuple(("Thin", *row[1:5], "2 %" if number == 0 else "") for number, row in enumerate(GOAT))
    caustic = tuple((*row[:3], "170 g" if row[1] == "Water" else row[3], *row[4:]) for row in caustic)
    outcome = formulas(world, tmp_path, *GOAT, *caustic)
    assert outcome.adds["formulas"] == 1
    assert outcome.left_out[0].startswith("Thin: write it down by hand")
    assert [row.name for row in Formula.objects.within(world.workshop)] == ["Goat's milk"]


def test_materials_come_in_with_their_figures(world: World, tmp_path: Path) -> None:
    rows = (
        ("House olive", "fat", "olive oil", "187", "189", "", "", "the mill"),
        ("Meadow goat", "liquid", "goat_milk", "", "", "5.2 %", "", ""),
        ("Lavender", "fragrance", "", "", "", "", "3", "supplier's paper"),
        ("Boxes", "packaging", "", "", "", "", "", ""),
    )
    outcome = materials(world, tmp_path, *rows)
    assert (outcome.adds["materials"], outcome.refused_rows) == (4, 0), outcome
    facts = {str(one): one for one in MaterialFacts.objects.within(world.workshop).select_related("material")}
    assert set(facts) == {"House olive", "Meadow goat", "Lavender"}
    assert (facts["House olive"].key, facts["House olive"].saponification_high) == ("olive", 189)
    assert facts["Meadow goat"].fat_fraction == Decimal("0.052")
    assert facts["Lavender"].most_share == Decimal("0.03")
    assert materials(world, tmp_path, *rows).adds_nothing


def test_figures_come_in_for_a_material_that_is_here_and_had_none(world: World, tmp_path: Path) -> None:
    world.material("House olive")
    row = ("House olive", "fat", "olive", "187", "189", "", "", "")
    assert materials(world, tmp_path, row).adds == {"materials": 0, "figures of materials": 1}
    other = materials(world, tmp_path, (*row[:3], "180", "181", *row[5:]))
    assert "they stay" in other.remarks[0]
    assert MaterialFacts.objects.within(world.workshop).get().saponification_low == 187


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("Mink", "fat", "mink oil", "", "", "", "", ""), "nothing of the list"),
        (("Olive", "fat", "", "0.134", "", "", "", ""), "between 60 and 400"),
        (("Olive", "fat", "", "196", "184", "", "", ""), "swap the two"),
        (("Milk", "liquid", "", "", "", "120", "", ""), "between 0 and 100"),
        (("Olive", "liquid", "olive", "", "", "", "", ""), "not in the list"),
        (("Boxes", "packaging", "", "190", "", "", "", ""), "no figures"),
    ],
)
def test_a_material_that_cannot_be_is_named(world: World, tmp_path: Path, row: tuple[str, ...], why: str) -> None:
    outcome = materials(world, tmp_path, row)
    assert why in " ".join(one.why for one in outcome.refusals)
    assert not Material.objects.within(world.workshop).exists()


def test_a_liquid_of_which_no_place_is_said_goes_in_front_and_that_is_said(world: World, tmp_path: Path) -> None:
    assert not any("in front" in remark for remark in formulas(world, tmp_path, *GOAT).remarks)
    said = formulas(world, tmp_path, *(("Another", *without_front(row)[1:]) for row in GOAT))
    assert "Where a liquid goes in is not said of every one: those go in front, with the lye." in said.remarks
    versions = FormulaVersion.objects.within(world.workshop).select_related("formula").order_by("pk")
    first, second = ([(line.name, line.goes_in) for line in kept(version).lines if line.goes_in] for version in versions)
    assert first == second


ACID_HEAD = ("Recipe", "Ingredient", "Type", "Amount", "Goes in", "Superfat", "Acid form", "Strength")


def with_acid(*acids: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    return (*((*row, "", "") for row in GOAT), *(("Goat's milk", name, "acid", "10 g", "", "", *more) for name, *more in acids))


@pytest.mark.parametrize(
    ("acid", "kept_as", "lye_more_g"),
    [
        # By trade: 0.624, 0.571 and 0.444 times its strength of sodium hydroxide for a gram.
        (("citric acid", "anhydrous", ""), ("anhydrous", None), 6.24),
        (("citric acid", "Monohydrat", ""), ("monohydrate", None), 5.71),
        (("citric acid", "dissolved", "50 %"), ("solution", Decimal("0.5")), 3.12),
        (("lactic acid", "solution", "80 %"), ("solution", Decimal("0.8")), 3.55),
        (("lactic acid", "", "80"), ("", Decimal("0.8")), 3.55),
        (("lactic acid", "", "0.8"), ("", Decimal("0.8")), 3.55),
    ],
)
def test_an_acid_comes_in_with_its_form_and_strength(
    world: World, tmp_path: Path, acid: tuple[str, ...], kept_as: tuple[str, Decimal | None], lye_more_g: float
) -> None:
    outcome = formulas(world, tmp_path, *with_acid(acid), head=ACID_HEAD)
    assert (outcome.adds["formulas"], outcome.refused_rows) == (1, 0), outcome
    version = kept(FormulaVersion.objects.within(world.workshop).select_related("formula").get())
    (line,) = (line for line in version.lines if line.role == "acid")
    assert (line.form, line.strength) == kept_as
    figures = judged(plan(workshop=world.workshop, entry=version.entry, at=world.now)).figures
    assert figures is not None
    assert figures.acids_naoh_g == pytest.approx(lye_more_g, abs=0.01)


@pytest.mark.parametrize(
    ("acid", "why"),
    [
        (("citric acid", "powdered", ""), "use anhydrous, monohydrate or solution"),
        (("lactic acid", "solution", "1"), "can be read two ways"),
        (("lactic acid", "solution", "180"), "above 0 and up to 100 %"),
        (("malic acid", "solution", ""), "Malic acid comes as anhydrous"),
    ],
)
def test_an_acid_that_cannot_be_is_named(world: World, tmp_path: Path, acid: tuple[str, ...], why: str) -> None:
    outcome = formulas(world, tmp_path, *with_acid(acid), head=ACID_HEAD)
    assert why in " ".join(one.why for one in outcome.refusals)
    assert not Formula.objects.within(world.workshop).exists()


def test_a_strength_is_asked_of_acids_only(world: World, tmp_path: Path) -> None:
    rows = tuple((*row, "", "50 %" if row[1] == "Water" else "") for row in GOAT)
    outcome = formulas(world, tmp_path, *rows, head=ACID_HEAD)
    assert "it is asked of acids only" in " ".join(one.why for one in outcome.refusals)


def test_own_liquids_come_in_with_what_they_are(world: World, tmp_path: Path) -> None:
    head = ("Material", "Kind", "Kind of liquid", "Water %", "Fat %", "Sugar %", "Thickened", "Allergens")
    rows = (
        ("Ewe", "liquid", "milk", "80.5 %", "8", "5", "", ""),
        ("Oat drink", "liquid", "Plant milk", "90", "1", "4,5", "yes", "oats, gluten"),
        ("Kid powder", "liquid", "milk powder", "3", "27", "38", "", ""),
    )
    outcome = bring(world, "materials", write_csv(tmp_path / "materials.csv", head, rows))
    assert (outcome.adds["materials"], outcome.refused_rows) == (3, 0), outcome
    facts = {str(one): one for one in MaterialFacts.objects.within(world.workshop).select_related("material")}
    assert [(one.liquid_kind, one.sugar_fraction, one.is_thickened) for one in facts.values()] == [
        ("milk", Decimal("0.05"), None),
        ("plant_milk", Decimal("0.045"), True),
        ("powder", Decimal("0.38"), None),
    ]
    assert facts["Oat drink"].allergen == "oats, gluten"
    # A formula of them knows them: the powder is no liquid of its own.
    lines = (
        ("Kid", "olive oil", "", "1000 g", "", "8"),
        ("Kid", "water", "", "320 g", "front", ""),
        ("Kid", "Kid powder", "", "20 g", "trace", ""),
    )
    assert formulas(world, tmp_path, *lines).adds["formulas"] == 1
    assert FormulaVersion.objects.within(world.workshop).get().liquid_g == 320


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("Ewe", "liquid", "cheese", ""), "use water, milk, plant milk, milk powder or other"),
        (("Ewe", "liquid", "milk", "maybe"), "neither yes nor no"),
        (("Ewe", "fat", "milk", ""), "Only a liquid"),
    ],
)
def test_a_liquid_that_cannot_be_is_named(world: World, tmp_path: Path, row: tuple[str, ...], why: str) -> None:
    given = write_csv(tmp_path / "materials.csv", ("Material", "Kind", "Kind of liquid", "Thickened"), (row,))
    outcome = bring(world, "materials", given)
    assert why in " ".join(one.why for one in outcome.refusals)
    assert not Material.objects.within(world.workshop).exists()
