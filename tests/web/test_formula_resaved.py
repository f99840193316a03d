"""A formula that is opened to be changed, and kept without a change, is what it was to the milligram."""

import re
from dataclasses import replace
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curehouse.common.errors import Invalid
from curehouse.common.units import to_grams
from curehouse.making.formulas.entries import FormulaEntry, GoesIn, LineEntry, Per, Role
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Formula, FormulaLine, FormulaVersion
from curehouse.making.services.facts import FactsEntry, write_facts
from curehouse.making.services.formulas import judged, plan, write_formula
from curehouse.web.forms.fields import exactly
from tests.formulas import FATS, LIQUIDS, fat, formula_entry, liquid
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

_INPUT = re.compile(r"<input\b[^>]*>")
_SELECT = re.compile(r'<select\b[^>]*name="([^"]+)"[^>]*>(.*?)</select>', re.DOTALL)
_AREA = re.compile(r'<textarea\b[^>]*name="([^"]+)"[^>]*>(.*?)</textarea>', re.DOTALL)


def _attribute(tag: str, name: str) -> str | None:
    found = re.search(rf'\b{name}="([^"]*)"', tag)
    return unescape(found[1]) if found else None


def typed_on(page: str) -> dict[str, str]:
    """Return what a browser sends of a page's form without a hand laid on it."""
    sent: dict[str, str] = {}
    for tag in _INPUT.findall(page):
        name, kind = _attribute(tag, "name"), _attribute(tag, "type")
        if name and (kind not in ("radio", "checkbox") or " checked" in tag):
            sent[name] = _attribute(tag, "value") or ""
    for name, options in _SELECT.findall(page):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        sent[name] = unescape(chosen[1]) if chosen else ""
    for name, text in _AREA.findall(page):
        sent[name] = unescape(text).strip()
    return sent


def resaved(world: World, visitor: Visitor, entry: FormulaEntry) -> tuple[FormulaVersion, FormulaVersion]:
    """Return a formula as it was written, and as it is once its page was opened and kept."""
    first = write_formula(actor=world.actor, entry=entry, at=world.now)
    page = visitor.get("formula_change", first.formula_id).content.decode()
    sent = {name: value for name, value in typed_on(page).items() if name not in ("form_key", "csrfmiddlewaretoken")}
    answer = visitor.post("formula_change", first.formula_id, **{**sent, "has_read": "\n".join(first.confirmed)})
    assert answer.status_code == 302, text_of(answer)
    return first, FormulaVersion.objects.within(world.workshop).filter(formula=first.formula).newest_first()[0]


NOT_THE_SAME = {"id", "version", "version_id", "pk"}


def lines_of(version: FormulaVersion) -> list[dict[str, Any]]:
    rows = FormulaLine.objects.within(version.workshop).filter(version=version).order_by("place").values()
    return [{name: value for name, value in row.items() if name not in NOT_THE_SAME} for row in rows]


def settings_of(version: FormulaVersion) -> dict[str, Any]:
    names = [field.attname for field in FormulaVersion._meta.concrete_fields]
    left_out = {"id", "revision", "written_at", "confirmed"}
    return {name: getattr(version, name) for name in names if name not in left_out}


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def every_kind(world: World) -> FormulaEntry:
    """Return a formula with all that the API and files can keep."""
    olive, milk = world.material("Oil from the mill"), world.material("Milk of the herd", kind="liquid")
    lemon, lye = world.material("Citric acid", kind="additive"), world.material("Sodium hydroxide", kind="lye")
    honey = world.material("Honey water", kind="liquid")
    lines = (
        LineEntry(Role.FAT, key="olive", material=olive, amount=Decimal("0.651234"), per=Per.FATS),
        LineEntry(Role.FAT, key="coconut", name="Coconut, from the fair", amount=Decimal("0.348766"), per=Per.FATS),
        LineEntry(
            Role.LIQUID, key="sheep_milk", material=milk, per=Per.LIQUID, amount=Decimal("0.512345"), goes_in=GoesIn.TRACE,
            water_fraction=Decimal("0.8123"), fat_fraction=Decimal("0.0712"), is_thickened=False,
        ),
        LineEntry(Role.LIQUID, name="Oat water", per=Per.REST, goes_in=GoesIn.FRONT, water_fraction=Decimal("0.9812")),
        LineEntry(Role.ACID, key="citric", material=lemon, amount=Decimal("3.125"), form="monohydrate"),
        LineEntry(Role.ACID, key="lactic", amount=Decimal("0.004321"), per=Per.FATS, strength=Decimal("0.8125")),
        LineEntry(Role.ADDITIVE, material=honey, amount=Decimal("11.007")),
        LineEntry(Role.FRAGRANCE, name="Lavender", amount=Decimal("0.012345"), per=Per.FATS, most_share=Decimal("0.0275")),
        LineEntry(Role.COLOUR, key="cocoa", name="Cocoa", amount=Decimal("5.001")),
    )  # fmt: skip
    return formula_entry(
        lines=lines, fats_g=Decimal("1234.567"), liquid=Decimal("0.3275"), liquid_per=Per.FATS, superfat=Decimal("0.0675"),
        naoh_share=Decimal("0.9525"), naoh_purity=Decimal("0.9875"), koh_purity=Decimal("0.9025"), naoh_from=lye,
        front_c=Decimal("24.5"), scale=world.scale, note="Stir\nwell.", min_days=35,
    )  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("unit", ["g", "oz"])
def test_nothing_that_the_api_or_a_file_kept_is_lost(world: World, visitor: Visitor, unit: str) -> None:
    world.workshop.unit = unit
    world.workshop.save()
    first, second = resaved(world, visitor, every_kind(world))
    assert first.pk != second.pk
    assert lines_of(first) == lines_of(second)
    assert settings_of(first) == settings_of(second)
    assert Formula.objects.within(world.workshop).get().min_days == 35


@pytest.mark.django_db
def test_ounces_stay_what_they_were_to_the_milligram(world: World, visitor: Visitor) -> None:
    world.workshop.unit = "oz"
    world.workshop.save()
    lines = (
        fat("olive", f"{to_grams(Decimal('24.6913'), 'oz')}"),
        fat("coconut", "301.007"),
        liquid("water", "150.123"),
        liquid("goat_milk", None, Per.REST, GoesIn.TRACE),
    )
    first, second = resaved(world, visitor, formula_entry(lines=lines, liquid=Decimal("320.001")))
    assert [line["amount"] for line in lines_of(second)] == [line["amount"] for line in lines_of(first)]
    assert second.liquid_g == Decimal("320.001")


@pytest.mark.django_db
def test_a_formula_of_twenty_fats_keeps_them_all(world: World, visitor: Visitor) -> None:
    fats = [fat("olive" if number % 2 else "sunflower", "50", name=f"Fat {number}") for number in range(20)]
    first, second = resaved(world, visitor, formula_entry(lines=(*fats, *LIQUIDS)))
    assert len(lines_of(second)) == 22
    assert lines_of(first) == lines_of(second)


@pytest.mark.django_db
def test_another_thing_in_the_row_takes_nothing_over(world: World, visitor: Visitor) -> None:
    first = write_formula(actor=world.actor, entry=every_kind(world), at=world.now)
    sent = typed_on(visitor.get("formula_change", first.formula_id).content.decode())
    rows = {name: value for name, value in sent.items() if name not in ("form_key", "csrfmiddlewaretoken")}
    rows["fats-0-what"], rows["acids-0-what"], rows["acids-0-form"] = "k:sunflower", "k:malic", ""
    asked = visitor.post("formula_change", first.formula_id, **rows)
    read = "" if asked.status_code == 302 else asked.context["form"].has_read_now
    assert not read or visitor.post("formula_change", first.formula_id, **{**rows, "has_read": read}).status_code == 302
    newest = FormulaVersion.objects.within(world.workshop).newest_first()[0]
    lines = lines_of(newest)
    assert (lines[0]["key"], lines[0]["material_id"], lines[0]["name"]) == ("sunflower", None, "sunflower oil")
    assert (lines[4]["key"], lines[4]["material_id"], lines[4]["name"]) == ("malic", None, "malic acid")


@pytest.mark.django_db
def test_what_was_kept_beside_a_line_is_refused_in_words_where_it_cannot_be_read(world: World, visitor: Visitor) -> None:
    first = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    sent = typed_on(visitor.get("formula_change", first.formula_id).content.decode())
    for wrong in ("no json", "[]", '{"what": "k:olive", "material": "999999"}', '{"strength": "lots"}', "7"):
        answer = visitor.post("formula_change", first.formula_id, **{**sent, "fats-0-kept": wrong})
        assert "cannot be read, or its material is out of use" in text_of(answer)


@pytest.mark.django_db
def test_a_material_that_is_corrected_later_counts_as_what_it_is(world: World) -> None:
    oil = world.material("Oil from the mill")
    write_facts(material=oil, entry=FactsEntry(key="coconut"))
    lines = (LineEntry(Role.FAT, material=oil, amount=Decimal(700)), FATS[1], *LIQUIDS)
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, superfat=Decimal("0.25")), at=world.now)
    write_facts(material=oil, entry=FactsEntry(key="olive"))
    one = plan(workshop=world.workshop, entry=kept(version).entry, at=world.now)
    # Not the lye of coconut oil: of olive oil, which it is.
    assert one.formula.fats[0].saponification.middle == 190
    assert one.entry.lines[0].key == "olive"
    explicit = replace(lines[0], key="coconut")
    entry = formula_entry(name="Said", lines=(explicit, *lines[1:]), superfat=Decimal("0.25"))
    with pytest.raises(Invalid, match="the row of the list out") as refused:
        write_formula(actor=world.actor, entry=entry, at=world.now)
    assert refused.value.code == "other_key"


@pytest.mark.django_db
def test_lye_stays_the_same_when_a_formula_is_kept_anew(world: World, visitor: Visitor) -> None:
    world.workshop.unit = "oz"
    world.workshop.save()
    first, second = resaved(world, visitor, every_kind(world))
    weighed = [judged(plan(workshop=world.workshop, entry=kept(one).entry, at=world.now)).figures for one in (first, second)]
    assert weighed[0] == weighed[1]


@given(st.integers(1, 999_999_000), st.sampled_from(["g", "oz"]))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_a_mass_as_it_is_shown_is_read_as_it_was(milligrams: int, unit: str) -> None:
    grams = Decimal(milligrams).scaleb(-3)
    assert to_grams(Decimal(exactly(grams, unit)), unit) == grams
