"""Formulas are written down whole, refused with figures, and stay as they were poured."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.making.formulas.entries import FormulaEntry, GoesIn, LineEntry, Per, Role
from curehouse.making.formulas.reading import kept, newest_version
from curehouse.making.models import Formula, FormulaLine, FormulaVersion
from curehouse.making.services.facts import FactsEntry, write_facts
from curehouse.making.services.formulas import check_formula, judged, plan, write_formula, write_version
from inventory.services.lots import record_value
from tests.formulas import FATS, LIQUIDS, fat, formula_entry, liquid
from tests.world import World

pytestmark = pytest.mark.django_db


def lye_of(world: World, entry: FormulaEntry) -> float:
    figures = judged(plan(workshop=world.workshop, entry=entry, at=world.now)).figures
    assert figures is not None
    return figures.lye_g


def test_a_formula_is_kept_as_typed_and_worked_out_alike_when_read_back(world: World) -> None:
    entry = formula_entry()
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    assert (version.formula.name, version.number, version.revision) == ("Goat's milk", 1, 1)
    assert version.by_user == world.owner
    assert lye_of(world, kept(version).entry) == lye_of(world, entry)
    # 1000 g: (700 x 190 + 300 x 256.5) / 56106 x 39.997 x 0.94, by hand; down to the scale's 0.1 g.
    assert lye_of(world, entry) == pytest.approx(140.6, abs=0.001)


def test_fats_in_shares_make_the_same_lye_as_in_grams(world: World) -> None:
    shares = (fat("olive", "0.7", Per.FATS), fat("coconut", "0.3", Per.FATS), *LIQUIDS)
    entry = formula_entry(lines=shares, fats_g=Decimal(1000))
    assert lye_of(world, entry) == lye_of(world, formula_entry())
    assert kept(write_formula(actor=world.actor, entry=entry, at=world.now)).entry.fats_g == 1000


def test_the_rest_of_the_liquid_is_what_the_total_leaves(world: World) -> None:
    one = plan(workshop=world.workshop, entry=formula_entry(), at=world.now)
    masses = {line.name: mass for line, mass in zip(one.entry.lines, one.masses_g, strict=True)}
    assert (masses["water"], masses["goat's milk"]) == (150, 170)
    share = formula_entry(liquid=Decimal("0.32"), liquid_per=Per.FATS)
    assert plan(workshop=world.workshop, entry=share, at=world.now).masses_g == one.masses_g


@pytest.mark.parametrize(
    ("changes", "code", "says"),
    [
        ({"lines": LIQUIDS}, "no_fats", "name at least one"),
        ({"lines": FATS}, "no_liquid", "at least one liquid"),
        ({"lines": (fat("olive", "0.7", Per.FATS), fat("coconut", "300"), *LIQUIDS)}, "fats_mixed", "not some of each"),
        ({"lines": (fat("olive", "0.7", Per.FATS), *LIQUIDS), "fats_g": Decimal(1000)}, "shares", "make 70"),
        ({"lines": (fat("olive", "1", Per.FATS), *LIQUIDS)}, "missing", "mass of all fats"),
        ({"lines": (*FATS, liquid("water", "150"))}, "liquid_sum", "150.0 g together, and the total says 320.0 g"),
        ({"lines": (*FATS, liquid("water", "400"), LIQUIDS[1])}, "no_rest", "80.0 g over the total"),
        ({"lines": (*FATS, LIQUIDS[1], LIQUIDS[1])}, "two_rests", "Only one liquid"),
        ({"lines": (fat("mink", "100"), *LIQUIDS)}, "key", "not in the list"),
        ({"superfat": Decimal("0.7")}, "superfat", "5"),
        ({"naoh_purity": Decimal(98)}, "purity", "certificate"),
        ({"front_c": Decimal("NaN")}, "temperature", "check the figure"),
        ({"liquid": Decimal("Infinity")}, "not_positive", "more than 0"),
        ({"lines": (fat("olive", "0"), *LIQUIDS)}, "not_positive", "more than 0"),
        ({"lines": (fat("olive", "0.0001"), *LIQUIDS)}, "not_positive", "more than 0"),
        ({"lines": (fat("olive", "100", saponification=Decimal("0.135")), *LIQUIDS)}, "saponification", "its unit"),
        ({"lines": (fat("olive", "100", saponification=Decimal("60.3016")), *LIQUIDS)}, "saponification", "its unit"),
        ({"lines": (fat("olive", "100", saponification=Decimal("398.02")), *LIQUIDS)}, "saponification", "its unit"),
        (
            {"lines": (*FATS, *LIQUIDS, LineEntry(Role.ACID, key="citric", amount=Decimal(1), form="crystals"))},
            "form",
            "comes as",
        ),
        ({"lines": (*FATS, *LIQUIDS, LineEntry(Role.ACID, key="nitric", amount=Decimal(1)))}, "acid", "choose one"),
        ({"lines": (*FATS, *LIQUIDS, LineEntry(Role.ADDITIVE, amount=Decimal(1)))}, "missing", "Say which"),
        ({"lines": (*FATS, liquid("water", "150", goes_in="later"), LIQUIDS[1])}, "place", "at trace"),
        ({"lines": (*FATS, *LIQUIDS, LineEntry("glaze", name="x", amount=Decimal(1)))}, "role", "fat"),
        (
            {"lines": (*FATS, liquid("water", "150", water_fraction=Decimal("1.2")), LIQUIDS[1])},
            "fraction",
            "between 0 and 100",
        ),
        ({"name": "  "}, "missing", "name is missing"),
        ({"min_days": 0}, "days", "between 1 and 730"),
        ({"note": "x" * 5000}, "too_long", "4000"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_leaves_nothing(
    world: World, changes: dict[str, Any], code: str, says: str
) -> None:
    with pytest.raises(DomainError) as caught:
        write_formula(actor=world.actor, entry=formula_entry(**changes), at=world.now)
    assert caught.value.code == code
    assert says in caught.value.message
    assert not Formula.objects.within(world.workshop).exists()


def test_a_setting_below_zero_is_refused_before_anything_is_worked_out(world: World) -> None:
    with pytest.raises(Invalid) as caught:
        write_formula(actor=world.actor, entry=formula_entry(superfat=Decimal("-0.02")), at=world.now)
    assert (caught.value.code, caught.value.field) == ("superfat_below_zero", "superfat")
    assert "set a superfat of 0\u00a0% or more" in caught.value.message
    assert not FormulaVersion.objects.within(world.workshop).exists()


def test_lye_that_the_front_cannot_dissolve_is_refused(world: World) -> None:
    lines = (*FATS, liquid("water", "120"), LIQUIDS[1])
    with pytest.raises(Invalid) as caught:
        write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)
    assert caught.value.data["codes"] == ["lye_over_solubility"]


def test_what_may_be_caustic_is_kept_only_once_a_person_said_they_read_it(world: World) -> None:
    entry = formula_entry(superfat=Decimal("0.02"), confirmed=())
    with pytest.raises(Conflict) as caught:
        write_formula(actor=world.actor, entry=entry, at=world.now)
    assert (caught.value.code, caught.value.data["codes"]) == ("formula_unconfirmed", ["may_be_caustic"])
    assert "May be caustic" in caught.value.message
    with pytest.raises(Conflict):
        write_formula(actor=world.actor, entry=replace(entry, confirmed=("scale_coarse",)), at=world.now)
    (read,) = caught.value.data["confirm"]
    version = write_formula(actor=world.actor, entry=replace(entry, confirmed=(read,)), at=world.now)
    assert version.confirmed == [read]


def test_a_low_end_that_fell_since_it_was_read_is_asked_about_again(world: World) -> None:
    entry = formula_entry(superfat=Decimal("0.03"), confirmed=())
    with pytest.raises(Conflict) as caught:
        write_formula(actor=world.actor, entry=entry, at=world.now)
    read = tuple(caught.value.data["confirm"])
    # Meanwhile a lot of olive oil came in whose certificate lies low.
    olive = stored(world, "Olive oil", "fat", ("SAP", "184"))
    lines = (LineEntry(Role.FAT, material=olive, amount=Decimal(700)), FATS[1], *LIQUIDS)
    weaker = replace(entry, lines=lines, naoh_from=None, naoh_purity=Decimal("0.95"), superfat=Decimal("0.005"))
    with pytest.raises(Conflict) as caught:
        write_formula(actor=world.actor, entry=replace(weaker, confirmed=read), at=world.now)
    assert "not what you read before" in caught.value.message
    # Nor is a better one taken for what was read: only the figure that was shown.
    better = replace(entry, superfat=Decimal("0.032"), confirmed=read)
    with pytest.raises(Conflict) as caught:
        write_formula(actor=world.actor, entry=better, at=world.now)
    shown = tuple(caught.value.data["confirm"])
    assert write_formula(actor=world.actor, entry=replace(better, confirmed=shown), at=world.now).confirmed == list(shown)


def test_a_name_is_given_once_but_a_batch_entered_by_hand_may_have_it(world: World) -> None:
    batch = world.batch()
    version = write_formula(actor=world.actor, entry=formula_entry(name=batch.formula.name.upper()), at=world.now)
    assert version.formula == batch.formula
    with pytest.raises(Conflict) as caught:
        write_formula(actor=world.actor, entry=formula_entry(name=batch.formula.name), at=world.now)
    assert caught.value.code == "name_taken"


def test_a_change_before_the_pour_keeps_the_number(world: World) -> None:
    first = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    entry = formula_entry(name="Goat & oat", superfat=Decimal("0.07"))
    second = write_version(actor=world.actor, formula=first.formula, entry=entry, over=first.pk, at=world.now)
    assert (second.number, second.revision, str(second)) == (1, 2, "Goat & oat, version 1")
    in_force = FormulaVersion.objects.within(world.workshop).in_force()
    assert list(in_force) == [second]
    assert newest_version(first.formula) == second


def test_two_who_change_the_same_version_do_not_lose_the_first_change(world: World) -> None:
    first = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    write_version(actor=world.actor, formula=first.formula, entry=formula_entry(), over=first.pk, at=world.now)
    with pytest.raises(Conflict) as caught:
        write_version(actor=world.actor, formula=first.formula, entry=formula_entry(), over=first.pk, at=world.now)
    assert caught.value.code == "written_meanwhile"


def stored(world: World, name: str, kind: str, figure: tuple[str, str] | None = None) -> Any:
    """Return a material of the storeroom with a lot, and a figure on the lot's certificate."""
    material = world.material(name, kind=kind)
    lot = world.lot("5000", material=material)
    if figure is not None:
        record_value(actor=world.actor, lot=lot, name=figure[0], value=Decimal(figure[1]), unit="", at=world.now)
    return material


def test_a_lots_certificate_beats_the_workshops_own_figures_and_they_beat_the_list(world: World) -> None:
    olive = stored(world, "Olive oil", "fat")
    lines = (LineEntry(Role.FAT, material=olive, amount=Decimal(700)), FATS[1], *LIQUIDS)
    of_list = lye_of(world, formula_entry())
    # Called like a fat of the list, it is that fat.
    assert lye_of(world, formula_entry(lines=lines)) == of_list
    write_facts(
        material=olive, entry=FactsEntry(key="olive", saponification_low=Decimal(186), saponification_high=Decimal(188))
    )
    own = lye_of(world, formula_entry(lines=lines))
    assert own < of_list
    lot = olive.lots.get()
    record_value(actor=world.actor, lot=lot, name="Saponification value", value=Decimal(191), unit="mg KOH/g", at=world.now)
    assert lye_of(world, formula_entry(lines=lines)) > of_list
    # What stands on the line itself comes first of all.
    lines = (replace(lines[0], saponification=Decimal(185)), *lines[1:])
    assert lye_of(world, formula_entry(lines=lines)) < own


@pytest.mark.parametrize(
    ("field", "name", "is_refused"),
    [
        ("koh_from", "Sodium hydroxide, pearls", True),
        ("koh_from", "Caustic soda", True),
        ("naoh_from", "KOH flakes", True),
        ("naoh_from", "Caustic potash", True),
        ("naoh_from", "NaOH", False),
        ("koh_from", "Kalilauge, trocken", False),
        ("koh_from", "Flakes from the co-op", False),
        ("naoh_from", "Alkali, in pearls", False),
        ("naoh_from", "NaOH (keep apart from the KOH)", False),
    ],
)
def test_a_lye_is_not_taken_for_the_other_one(world: World, field: str, name: str, is_refused: bool) -> None:
    """A gram of sodium hydroxide counted as potassium hydroxide is 1.4 times the lye that was meant."""
    entry = formula_entry(**{field: world.material(name, kind="lye")}, koh_purity=Decimal("0.9"), naoh_share=Decimal("0.9"))
    if not is_refused:
        assert write_formula(actor=world.actor, entry=entry, at=world.now).pk
        return
    with pytest.raises(Invalid) as caught:
        write_formula(actor=world.actor, entry=entry, at=world.now)
    assert (caught.value.code, caught.value.field) == ("other_lye", field)


def test_one_value_of_the_workshops_own_is_no_surer_than_a_certificate(world: World) -> None:
    olive = stored(world, "Olive oil", "fat")
    lines = (LineEntry(Role.FAT, material=olive, amount=Decimal(700)), FATS[1], *LIQUIDS)
    for low, middle, high in ((191, 191, 191), (60, 60, 60), (400, 400, 400), (186, 188, 190)):
        write_facts(
            material=olive, entry=FactsEntry(key="olive", saponification_low=Decimal(low), saponification_high=Decimal(high))
        )
        value = plan(workshop=world.workshop, entry=formula_entry(lines=lines), at=world.now).formula.fats[0].saponification
        assert value.middle == pytest.approx(middle)
        assert (value.low, value.high) == pytest.approx(
            (max(60, min(low, middle * 0.995)), min(400, max(high, middle * 1.005)))
        )


def test_what_is_kept_of_a_figure_never_asks_for_more_lye_than_what_was_typed(world: World) -> None:
    acid = LineEntry(Role.ACID, key="lactic", amount=Decimal(10), strength=Decimal("0.80009"))
    olive = fat("olive", "700", saponification=Decimal("190.019"))
    entry = formula_entry(superfat=Decimal("0.06001"), naoh_purity=Decimal("0.97001"), lines=(olive, FATS[1], *LIQUIDS, acid))
    one = plan(workshop=world.workshop, entry=entry, at=world.now).entry
    assert (one.superfat, one.naoh_purity) == (Decimal("0.0601"), Decimal("0.9701"))
    assert (one.of(Role.FAT)[0].saponification, one.of(Role.ACID)[0].strength) == (Decimal("190.01"), Decimal("0.8000"))
    weak = replace(acid, strength=Decimal("0.00009"))
    with pytest.raises(Invalid):
        plan(workshop=world.workshop, entry=replace(entry, lines=(*FATS, *LIQUIDS, weak)), at=world.now)


def test_a_figure_in_another_unit_is_not_counted(world: World) -> None:
    olive = stored(world, "Olive oil", "fat", ("SAP", "0.135"))
    lines = (LineEntry(Role.FAT, material=olive, amount=Decimal(700)), FATS[1], *LIQUIDS)
    one = plan(workshop=world.workshop, entry=formula_entry(lines=lines), at=world.now)
    assert one.formula.fats[0].certificate is None
    assert [value.name for value in one.known.lots[olive.pk][0].odd] == ["SAP"]


def test_a_fat_nobody_knows_asks_which_one_it_is(world: World) -> None:
    mystery = stored(world, "Bucket from the fair", "fat")
    lines = (LineEntry(Role.FAT, material=mystery, amount=Decimal(700)), *LIQUIDS)
    with pytest.raises(Invalid) as caught:
        plan(workshop=world.workshop, entry=formula_entry(lines=lines), at=world.now)
    assert (caught.value.code, caught.value.field) == ("unknown_fat", "fats")


def test_a_milk_lots_own_fat_counts_and_narrows_the_ends(world: World) -> None:
    milk = stored(world, "Goat's milk", "liquid", ("Fat", "6.0"))
    lines = (*FATS, LIQUIDS[0], LineEntry(Role.LIQUID, material=milk, per=Per.REST, goes_in=GoesIn.TRACE))
    one = plan(workshop=world.workshop, entry=formula_entry(lines=lines), at=world.now)
    (goat,) = [each for each in one.formula.liquids if each.name == "Goat's milk"]
    assert (goat.made_of.fat.middle, goat.made_of.fat_measured) == (0.06, True)
    assert goat.kind.value == "milk"
    codes = {finding.code for finding in judged(one).findings}
    assert "milk_fat_from_table" not in codes


def test_lye_of_a_lot_that_is_weaker_is_weighed_in_larger_amount(world: World) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("Purity", "98"))
    assert lye_of(world, formula_entry(naoh_from=lye)) == pytest.approx(lye_of(world, formula_entry()) / 0.98, abs=0.1)
    assert lye_of(world, formula_entry(naoh_from=lye, naoh_purity=Decimal(1))) == lye_of(world, formula_entry())


def test_potassium_hydroxide_without_a_purity_shows_no_amount(world: World) -> None:
    with pytest.raises(Invalid) as caught:
        write_formula(actor=world.actor, entry=formula_entry(naoh_share=Decimal("0.95")), at=world.now)
    assert caught.value.data["codes"] == ["koh_purity_missing"]
    entry = formula_entry(naoh_share=Decimal("0.95"), koh_purity=Decimal("0.9"))
    assert write_formula(actor=world.actor, entry=entry, at=world.now).koh_purity == Decimal("0.9")


def test_the_lines_of_a_version_never_change(world: World) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    line = FormulaLine.objects.within(world.workshop).filter(version=version).first()
    with pytest.raises(TypeError):
        line.save()


def test_a_formulas_own_minimum_cure_is_kept_and_given_back(world: World) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(min_days=42), at=world.now)
    assert (version.formula.min_days, kept(version).entry.min_days) == (42, 42)
    write_version(actor=world.actor, formula=version.formula, entry=formula_entry(), at=world.now)
    assert Formula.objects.within(world.workshop).get().min_days is None


def test_a_formula_is_not_called_like_another_in_other_letters(world: World) -> None:
    write_formula(actor=world.actor, entry=formula_entry(name="Old olive"), at=world.now)
    other = write_formula(actor=world.actor, entry=formula_entry(name="New olive"), at=world.now)
    with pytest.raises(Conflict) as caught:
        write_version(actor=world.actor, formula=other.formula, entry=formula_entry(name="OLD OLIVE"), at=world.now)
    assert caught.value.code == "name_taken"


@pytest.mark.parametrize(("naoh_share", "field"), [("1", "naoh_purity"), ("0", "koh_purity")])
def test_a_purity_that_is_typed_as_a_share_is_named_and_not_taken_for_too_little_fat(
    world: World, naoh_share: str, field: str
) -> None:
    entry = formula_entry(naoh_share=Decimal(naoh_share), **{field: Decimal("0.00985")})
    with pytest.raises(Invalid, match="purity") as refused:
        check_formula(workshop=world.workshop, entry=entry, at=world.now)
    assert refused.value.code == "formula_refused"
