"""Formulas at the pages: typed, refused with what to do, confirmed, looked at, changed, copied."""

import re
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.common.errors import Conflict
from curehouse.making.formulas.entries import LineEntry, Per, Role
from curehouse.making.models import Formula, FormulaLine, FormulaVersion
from curehouse.making.services.formulas import write_formula, write_version
from curehouse.workshops.models import Member
from curehouse.workshops.services import add_scale
from inventory.services.lots import record_value
from inventory.services.movements import count as count_lot
from tests.formulas import FATS as FATS_G
from tests.formulas import fat, formula_entry, liquid
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

PLAIN = {
    "name": "Goat's milk",
    "fats_per": "grams",
    "superfat_pct": "8",
    "lye": "naoh",
    "liquid": "32",
    "liquid_per": "fats",
    "front_c": "25",
}
FATS = [{"what": "k:olive", "amount": "700", "saponification": "190"}, {"what": "k:coconut", "amount": "300"}]
LIQUIDS = [
    {"what": "k:water", "amount": "50", "per": "liquid", "goes_in": "front"},
    {"what": "k:goat_milk", "amount": "", "per": "rest", "goes_in": "trace"},
]


def rows(prefix: str, lines: list[dict[str, str]]) -> dict[str, str]:
    sent = {f"{prefix}-TOTAL_FORMS": str(len(lines)), f"{prefix}-INITIAL_FORMS": "0"}
    return sent | {f"{prefix}-{number}-{name}": value for number, line in enumerate(lines) for name, value in line.items()}


def typed(**changes: Any) -> dict[str, str]:
    """Return what the form of a formula sends."""
    lines = {"fats": FATS, "liquids": LIQUIDS, "acids": [], "extras": [{}]}
    lines |= {prefix: changes.pop(prefix) for prefix in list(changes) if prefix in lines}
    sent = PLAIN | changes
    for prefix, some in lines.items():
        sent |= rows(prefix, some)
    return sent


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def send(visitor: Visitor, **changes: Any) -> HttpResponse:
    return visitor.post("formula_new", **typed(**changes))


def the_version(world: World) -> FormulaVersion:
    return FormulaVersion.objects.within(world.workshop).get()


def test_a_formula_is_typed_and_shown_with_its_lye(world: World, visitor: Visitor) -> None:
    answer = send(visitor)
    assert answer.status_code == 302, text_of(answer)
    version = the_version(world)
    words = visitor.words("formula", version.formula_id)
    # (700 x 190 + 300 x 256.5) / 56106 x 39.997 x 0.92 = 137.697 g, by hand: never rounded up.
    assert "sodium hydroxide (NaOH) counted 100 % pure 137.6 g" in words
    assert "160.0 g" in words
    assert "Lye burns and blinds" in words
    assert "with one double bond" in words
    assert "Version 1" in words


def test_a_refusal_stands_on_the_form_and_nothing_typed_is_lost(world: World, visitor: Visitor) -> None:
    liquids = [{**LIQUIDS[0], "amount": "20"}, LIQUIDS[1]]
    answer = send(visitor, liquids=liquids, note="for the market")
    assert answer.status_code == 200
    words = text_of(answer)
    assert "The lye cannot all dissolve" in words
    assert "Put more of the liquid in front" in words
    assert "for the market" in answer.content.decode()
    assert 'value="700"' in answer.content.decode()
    assert not Formula.objects.within(world.workshop).exists()


def test_what_may_be_caustic_is_asked_about_and_kept_once_it_was_read(world: World, visitor: Visitor) -> None:
    fats = [{"what": "k:olive", "amount": "700"}, FATS[1]]
    answer = send(visitor, superfat_pct="2", fats=fats)
    words = text_of(answer)
    assert "May be caustic" in words
    assert "I have read it: keep the formula" in words
    assert not Formula.objects.within(world.workshop).exists()
    read = re.search(r'name="has_read" value="(may_be_caustic:-0\.\d{4})"', answer.content.decode())
    assert read is not None
    # Of what was read of a higher superfat a lower one is asked about again, and is not read by its name alone.
    again = send(visitor, superfat_pct="1", fats=fats, has_read=read[1])
    assert "It is not what you read before any more. May be caustic" in text_of(again)
    assert "May be caustic" in text_of(send(visitor, superfat_pct="2", fats=fats, has_read="may_be_caustic"))
    assert not Formula.objects.within(world.workshop).exists()
    assert send(visitor, superfat_pct="2", fats=fats, has_read=read[1]).status_code == 302
    assert the_version(world).confirmed == [read[1]]


def test_no_figure_that_is_typed_is_rounded_to_more_lye(world: World, visitor: Visitor) -> None:
    fats = [{"what": "k:olive", "amount": "700", "saponification": "190.006"}, FATS[1]]
    assert send(visitor, fats=fats, superfat_pct="8.004", naoh_purity_pct="98.444").status_code == 302
    version = FormulaVersion.objects.within(world.workshop).get()
    assert (version.superfat, version.naoh_purity) == (Decimal("0.0801"), Decimal("0.9845"))
    assert version.lines.get(key="olive").saponification == Decimal("190.00")


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"fats": [{"what": "k:olive", "amount": ""}]}, "The amount is missing"),
        ({"fats": [{"what": "", "amount": "700"}]}, "Say what this is"),
        ({"fats": [{"what": "k:olive", "amount": "7,00.5"}]}, "one point or comma"),
        ({"fats": [{"what": "k:mink", "amount": "700"}]}, "not in the list"),
        ({"fats": [{}]}, "name at least one"),
        ({"fats": [{"what": "k:olive", "amount": "1,200"}, FATS[1]]}, "“1,200” reads two ways: type 1200, or 1.2."),
        ({"fats": [{"what": "k:olive", "amount": "1.234"}, FATS[1]]}, "“1.234” reads two ways: type 1234, or 1.2340."),
        ({"liquid": "1.320", "liquid_per": "grams"}, "type 1320, or 1.32."),
        ({"lye": "both"}, "say how much of them is NaOH"),
        ({"superfat_pct": "five"}, "type figures"),
        ({"superfat_pct": "-1"}, "Below 0 % there is more lye than the fats can take"),
        ({"superfat_pct": "-0,01"}, "Below 0 % there is more lye than the fats can take"),
        ({"superfat_pct": "-0.00001"}, "Below 0 % there is more lye than the fats can take"),
        ({"name": ""}, "name is missing"),
        ({"liquids": [LIQUIDS[0]]}, "let one of them be the rest"),
        ({"extras": [{"name": "Marigold", "amount": ""}]}, "The amount is missing"),
        ({"front_c": "hot"}, "type figures"),
        ({"fats_per": "stones"}, "choose one"),
    ],
)
def test_what_is_typed_wrong_is_answered_in_words(world: World, visitor: Visitor, changes: dict[str, Any], says: str) -> None:
    answer = send(visitor, **changes)
    assert answer.status_code == 200
    assert says in text_of(answer)
    assert not Formula.objects.within(world.workshop).exists()


def test_another_row_keeps_what_was_typed(visitor: Visitor) -> None:
    answer = visitor.post("formula_new", **typed(more="fats", name="Half-written, 12"))
    content = answer.content.decode()
    assert 'name="fats-2-what"' in content
    assert 'value="Half-written, 12"' in content
    assert 'value="700"' in content


def test_an_addition_and_an_acid_are_kept_with_what_they_say(world: World, visitor: Visitor) -> None:
    extras = [
        {"name": "Lavender", "role_of": "fragrance", "amount": "3", "per": "fats", "most_pct": "2"},
        {"name": "Oat flour", "role_of": "additive", "amount": "20", "per": "grams"},
    ]
    acids = [{"what": "k:citric", "amount": "10", "per": "grams", "form": "anhydrous"}]
    assert send(visitor, extras=extras, acids=acids).status_code == 302
    lines = FormulaLine.objects.within(world.workshop).filter(role__in=["fragrance", "additive", "acid"])
    assert {line.name: line.role for line in lines} == {
        "Lavender": "fragrance", "Oat flour": "additive", "citric acid": "acid",
    }  # fmt: skip
    words = visitor.words("formula", the_version(world).formula_id)
    assert "its supplier's maximum is 2 %" in words.replace("&#x27;", "'")
    assert "30.0 g" in words


def test_a_change_starts_from_what_is_kept_and_comes_back_the_same(world: World, visitor: Visitor) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    content = visitor.get("formula_change", version.formula_id).content.decode()
    for value in ('value="700"', 'value="6"', 'value="150"', f'value="{version.pk}"'):
        assert value in content
    changed = typed(superfat_pct="9", over=str(version.pk))
    assert visitor.post("formula_change", version.formula_id, **changed).status_code == 302
    assert [row.revision for row in FormulaVersion.objects.within(world.workshop).newest_first()] == [2, 1]
    again = visitor.post("formula_change", version.formula_id, **changed)
    assert "was changed meanwhile" in text_of(again)


def test_a_copy_begins_with_the_lines_and_without_the_name(world: World, visitor: Visitor) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    content = visitor.get("formula_new", query=f"?like={version.pk}").content.decode()
    assert 'value="700"' in content
    assert 'Goat&#x27;s milk"' not in content


def test_a_formula_of_a_batch_entered_by_hand_asks_for_its_lines(world: World, visitor: Visitor) -> None:
    batch = world.batch()
    assert "not written down yet" in visitor.words("formula", batch.formula_id)
    assert batch.formula.name in visitor.words("formulas")
    answer = visitor.post("formula_change", batch.formula_id, **typed(name=batch.formula.name))
    assert answer.status_code == 302
    assert the_version(world).formula == batch.formula


def test_queries_of_the_list_and_of_a_formula_do_not_grow(world: World, visitor: Visitor) -> None:
    first = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    few = visitor.queries("formulas"), visitor.queries("formula", first.formula_id)
    for number in range(6):
        write_formula(actor=world.actor, entry=formula_entry(name=f"Soap {number}"), at=world.now)
    assert (visitor.queries("formulas"), visitor.queries("formula", first.formula_id)) == few


def test_what_a_material_is_made_of_is_written_down_and_counts(world: World, visitor: Visitor) -> None:
    olive = world.material()
    assert "In the list it is olive oil: 184 to 196 mg KOH per g" in visitor.words("material_facts", olive.pk)
    assert "lies above 59" in text_of(visitor.post("material_facts", olive.pk, saponification_low="0.134"))
    sent = {"key": "olive", "saponification_low": "190", "saponification_high": "190", "source": "the mill"}
    assert visitor.post("material_facts", olive.pk, **sent).status_code == 302
    fats = [{"what": f"m:{olive.pk}", "amount": "700"}, FATS[1]]
    assert send(visitor, fats=fats).status_code == 302
    assert "137.6 g" in visitor.words("formula", the_version(world).formula_id)


def test_an_own_liquid_is_written_down_as_milk_with_its_sugar(world: World, visitor: Visitor) -> None:
    ewe = world.material("Ewe", kind="liquid")
    assert "powder of milk" in visitor.words("material_facts", ewe.pk)
    sent = {"liquid_kind": "milk", "water_pct": "80", "fat_pct": "8", "sugar_pct": "5"}
    assert "make more than 100" in text_of(visitor.post("material_facts", ewe.pk, **{**sent, "sugar_pct": "15"}))
    assert visitor.post("material_facts", ewe.pk, **sent).status_code == 302
    page = visitor.words("material_facts", ewe.pk)
    assert "Its sugar, %" in page
    liquids = [LIQUIDS[0], {"what": f"m:{ewe.pk}", "per": "rest", "goes_in": "trace"}]
    assert send(visitor, liquids=liquids).status_code == 302
    shown = visitor.words("formula", the_version(world).formula_id)
    assert "At trace the liquid brings 8.0 g of sugar" in shown
    assert "Nothing is known" not in shown


def test_a_liquid_of_which_nothing_is_known_is_named_on_the_page(world: World, visitor: Visitor) -> None:
    brew = world.material("Brew", kind="liquid")
    liquids = [LIQUIDS[0], {"what": f"m:{brew.pk}", "per": "rest", "goes_in": "trace"}]
    assert send(visitor, liquids=liquids).status_code == 302
    said = "Nothing is known of the water, fat and sugar of Brew: counted as water"
    assert said in visitor.words("formula", the_version(world).formula_id)


def test_the_list_that_ships_names_its_sources(visitor: Visitor) -> None:
    words = visitor.words("catalogue")
    assert "Codex CXS 33" in words
    assert "USDA SR, NDB 1106" in words


def test_what_it_costs_is_shown_to_who_may_know(world: World, visitor: Visitor) -> None:
    lot = world.lot(unit_cost=Decimal("0.0082"))
    lines = (LineEntry(Role.FAT, material=lot.material, amount=Decimal(1000)), liquid("water", None, Per.REST))
    entry = formula_entry(lines=lines, superfat=Decimal("0.08"))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    # 1000 g at 0.0082 EUR; water comes from the tap, and no lot of lye is named.
    assert "8.20 EUR without lye" in visitor.words("formula", version.formula_id)
    Member.objects.within(world.workshop).filter(user=world.owner).update(role=Member.Role.HELPER)
    assert "EUR" not in visitor.words("formula", version.formula_id)
    assert "EUR" not in visitor.words("version_scale", version.pk, query="?by=fats&fats_g=500")


def test_a_mass_to_the_milligram_can_be_changed_without_being_asked_about(world: World, visitor: Visitor) -> None:
    lines = (fat("olive", "701.764"), fat("coconut", "300"), liquid("water", None, Per.REST))
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)
    form = visitor.get("formula_change", version.formula_id).context["form"]
    assert form.lines["fats"].forms[0]["amount"].value() == "701.7640"
    assert send(visitor, fats=[{"what": "k:olive", "amount": "701.7640"}, FATS[1]]).status_code == 200  # the name is taken
    sent = typed(fats=[{"what": "k:olive", "amount": "701.7640"}, FATS[1]], over=str(version.pk))
    assert visitor.post("formula_change", version.formula_id, **sent).status_code == 302
    newest = FormulaLine.objects.within(world.workshop).filter(version__revision=2, place=0).get()
    assert newest.amount == Decimal("701.764")


def test_a_formula_whose_fat_is_not_known_any_more_still_opens_and_says_so(world: World, visitor: Visitor) -> None:
    lot = world.lot(material=world.material("Bucket from the fair"))
    record_value(actor=world.actor, lot=lot, name="SV", value=Decimal(190), unit="mg KOH/g", at=world.now)
    lines = (LineEntry(Role.FAT, material=lot.material, amount=Decimal(1000)), liquid("water", None, Per.REST))
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)
    assert "counted with lot 1: 190 mg KOH per g" in visitor.words("formula", version.formula_id)
    count_lot(actor=world.actor, lot=lot, counted=Decimal(0), moment=world.now, at=world.now, reason="used up")
    words = visitor.words("formula", version.formula_id)
    assert "How much lye Bucket from the fair takes is not known" in words
    assert "Change it" in words


@pytest.mark.parametrize("value", ["60", "399", "400"])
def test_a_certificate_at_the_edge_of_what_can_be_is_not_counted_and_the_page_opens(
    world: World, visitor: Visitor, value: str
) -> None:
    lot = world.lot(material=world.material("Olive oil"))
    record_value(actor=world.actor, lot=lot, name="SV", value=Decimal(value), unit="mg KOH/g", at=world.now)
    lines = (LineEntry(Role.FAT, material=lot.material, amount=Decimal(1000)), liquid("water", None, Per.REST))
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)
    assert f"counted with lot 1: {value}" not in visitor.words("formula", version.formula_id)


def test_a_wanted_superfat_with_the_milks_fat_gives_the_setting(world: World, visitor: Visitor) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    assert "For 5 % with the milk’s fat set a superfat of 4." in visitor.words(
        "formula", version.formula_id, query="?effective=5"
    )
    near = visitor.words("formula", version.formula_id, query="?effective=2")
    assert "May be caustic: the superfat of the fats may then really be as low as −" in near
    assert "It takes certificates" in near
    assert "No setting brings 0 %" in visitor.words("formula", version.formula_id, query="?effective=0")
    assert "The superfat wanted is 0 or more" in visitor.words("formula", version.formula_id, query="?effective=60")
    plain = write_formula(
        actor=world.actor, entry=formula_entry(name="No milk", lines=(*FATS_G, liquid("water", "320"))), at=world.now
    )
    assert "The superfat that you want" not in visitor.words("formula", plain.formula_id)


def test_water_and_weights_stand_with_their_ends_in_grams(world: World, visitor: Visitor) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    words = visitor.words("formula", version.formula_id)
    # 150 g of water and 170 g of milk with 0.86 to 0.89 of water: 296.2 to 301.3, and the scale's doubt.
    assert re.search(r"water that must dry out 29\d\.\d g 29\d\.\d to 30\d\.\d g", words)
    assert re.search(r"the whole batch, dry 1\d{3}\.\d g 1\d{3}\.\d to 1\d{3}\.\d g", words)


def test_a_formula_is_taken_out_of_use_and_up_again(world: World, visitor: Visitor) -> None:
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    other = write_formula(actor=world.actor, entry=formula_entry(name="Zest"), at=world.now)
    assert visitor.post("formula_retire", version.formula_id).status_code == 302
    words = visitor.words("formula", version.formula_id)
    assert "Out of use: it is kept for what was poured from it." in words
    assert "Enter a batch of it" not in words
    assert "Change it" not in words
    assert "Enter a batch of this size" not in visitor.words("version_scale", version.pk, query="?by=fats&fats_g=500")
    words = visitor.words("formulas")
    # Those in use stand first, whatever they are called.
    assert words.index("Zest") < words.index("Goat")
    assert "out of use; version 1" in words
    with pytest.raises(Conflict) as caught:
        write_version(actor=world.actor, formula=version.formula, entry=formula_entry(), at=world.now)
    assert caught.value.code == "retired"
    assert visitor.post("formula_retire", version.formula_id).status_code == 302
    assert "Change it" in visitor.words("formula", version.formula_id)
    assert other.formula.retired_at is None


def test_what_the_scale_cannot_weigh_is_shown_rounded_and_says_so(world: World, visitor: Visitor) -> None:
    change_scale(world)
    fats = [{"what": "k:olive", "amount": "700,5", "saponification": "190"}, {"what": "k:coconut", "amount": "299,5"}]
    assert send(visitor, fats=fats).status_code == 302
    words = visitor.words("formula", the_version(world).formula_id)
    assert "written down as 700.5 g, rounded to your scale" in words
    assert "written down as 299.5 g, rounded to your scale" in words
    assert "water written down" not in words


def change_scale(world: World) -> None:
    add_scale(workshop=world.workshop, name="Whole grams", step_g=Decimal(1))


def test_the_amount_of_a_fat_says_its_unit(visitor: Visitor) -> None:
    assert "Amount, g or %" in visitor.words("formula_new")
