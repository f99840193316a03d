"""An edit of what is known of a material moves the lye of poured versions: it is read first, confirmed, and noted."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.common.errors import Conflict
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.know import know_material
from curehouse.flows.stock import edit_material, record_value
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import Batch, FormulaVersion, MaterialFacts
from curehouse.making.services import BatchEntry, LiquidEntry
from curehouse.making.services.facts import FactsEntry
from curehouse.making.services.formulas import retire_formula, write_formula, write_version
from curehouse.workshops.models import AuditEntry
from inventory.models import Lot, LotValue, Material
from inventory.services.things import MaterialEntry
from tests.api.device import Device
from tests.formulas import READ, formula_entry, liquid
from tests.lye_read import read_and_confirmed
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

SAP = FactsEntry(saponification_low=Decimal(195), saponification_high=Decimal(197))


def make(world: World, oil: Material, name: str = "Goat and oat", **more: Any) -> FormulaVersion:
    lines = (LineEntry(Role.FAT, material=oil, amount=Decimal(1000)), liquid("water", "330"))
    entry = formula_entry(name=name, lines=lines, liquid=Decimal(330), superfat=Decimal("0.05"), confirmed=READ, **more)
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def pour(world: World, version: FormulaVersion, lye_g: str = "128.6", **more: Any) -> Batch:
    entry = BatchEntry(
        formula_name="", version=version, poured_at=world.now - timedelta(days=30), cut_at=None, bars=0, fats_g=Decimal(1000),
        lye_g=Decimal(lye_g), liquids=(LiquidEntry("water", Decimal(330)),), lye_confirmed=True, **more,
    )  # fmt: skip
    return enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), at=world.now - timedelta(days=29))


@pytest.fixture
def oil(world: World) -> Material:
    return world.material("Olive oil")


@pytest.fixture
def poured(world: World, oil: Material, monkeypatch: pytest.MonkeyPatch) -> FormulaVersion:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    version = make(world, oil)
    pour(world, version)
    return version


def asked(world: World, oil: Material, entry: FactsEntry, **more: Any) -> Conflict:
    with pytest.raises(Conflict) as refused:
        know_material(material=oil, entry=entry, at=world.now, **more)
    assert refused.value.code == "poured_lye_moves"
    return refused.value


def test_what_moves_is_said_and_nothing_is_written(world: World, oil: Material, poured: FormulaVersion) -> None:
    # 1,000 g · 190 and 196 mg KOH per g, less 5 %, as NaOH, in whole grams of the scale or before them.
    said = asked(world, oil, SAP)
    step = world.scale.step_g
    was, now = (Decimal(1000) * sap / 1000 * Decimal("39.997") / Decimal("56.106") * Decimal("0.95") for sap in (190, 196))
    was, now = (grams // step * step for grams in (was, now))
    assert f"{poured}: lye from {was.normalize():f} g to {now.normalize():f} g" in said.message
    (one,) = said.data["versions"]
    assert (one["version"], one["number"], one["formula_name"]) == (poured.pk, 1, "Goat and oat")
    assert (Decimal(one["naoh_g_before"]), Decimal(one["naoh_g"])) == (was, now)
    assert said.data["more"] == 0
    assert not MaterialFacts.objects.within(world.workshop).exists()


def test_it_is_written_once_just_this_was_read(world: World, oil: Material, poured: FormulaVersion) -> None:
    confirm = asked(world, oil, SAP).data["confirm"]
    worse = asked(world, oil, replace(SAP, saponification_high=Decimal(199)), lye_confirmed=confirm)
    assert worse.message.startswith("It is not what you read before any more.")
    know_material(material=oil, entry=SAP, at=world.now, lye_confirmed=confirm)
    assert MaterialFacts.objects.within(world.workshop).get(material=oil).saponification_low == 195


@pytest.mark.parametrize(
    "entry",
    [
        FactsEntry(source="the mill", allergen="olive"),
        FactsEntry(key="olive"),
        FactsEntry(saponification_low=Decimal("189.98"), saponification_high=Decimal("190.04")),
    ],
)
def test_what_moves_no_lye_is_not_asked(world: World, oil: Material, poured: FormulaVersion, entry: FactsEntry) -> None:
    know_material(material=oil, entry=entry, at=world.now)
    assert MaterialFacts.objects.within(world.workshop).filter(material=oil).exists()


def test_what_was_not_poured_or_is_out_of_use_or_written_again_is_not_asked(world: World, oil: Material) -> None:
    make(world, oil, "Not poured")
    retired = make(world, oil, "Retired")
    pour(world, retired)
    retire_formula(formula=retired.formula, at=world.now)
    know_material(material=oil, entry=SAP, at=world.now)


def test_the_five_that_move_furthest_are_named_and_the_others_counted(world: World, oil: Material) -> None:
    other = world.material("Sunflower oil")
    for number in range(7):
        lines = (
            LineEntry(Role.FAT, material=oil, amount=Decimal(100 * (number + 1))),
            LineEntry(Role.FAT, material=other, amount=Decimal(1000 - 100 * (number + 1))),
            liquid("water", "330"),
        )
        entry = formula_entry(name=f"Soap {number}", lines=lines, liquid=Decimal(330), confirmed=READ)
        pour(world, write_formula(actor=world.actor, entry=entry, at=world.now), "125")
    said = asked(world, oil, SAP)
    assert [one["formula_name"] for one in said.data["versions"]] == [f"Soap {number}" for number in (6, 5, 4, 3, 2)]
    assert said.data["more"] == 2
    assert said.message.startswith("With this 7 versions that were poured ask")
    assert "; and 2 more." in said.message


def test_queries_do_not_grow_with_formulas(world: World, oil: Material) -> None:
    counted = []
    for many in (2, 12):
        for number in range(many):
            pour(world, make(world, oil, f"Soap {many} {number}"))
        with CaptureQueriesContext(connection) as queries:
            asked(world, oil, SAP)
        counted.append(len(queries))
    assert counted[0] == counted[1]
    assert counted[0] < 30


def test_another_name_that_makes_it_another_fat_is_asked_too(world: World, oil: Material, poured: FormulaVersion) -> None:
    entry = MaterialEntry("Coconut oil", oil.kind, oil.measure)
    with pytest.raises(Conflict) as refused:
        edit_material(material=oil, entry=entry, at=world.now)
    assert refused.value.code == "poured_lye_moves"
    oil.refresh_from_db()
    assert oil.name == "Olive oil"
    edit_material(material=oil, entry=replace(entry, name="Olive oil, virgin"), at=world.now)
    edit_material(material=oil, entry=entry, at=world.now, lye_confirmed=refused.value.data["confirm"])
    oil.refresh_from_db()
    assert oil.name == "Coconut oil"


def test_a_name_that_leaves_no_lye_is_asked(world: World, oil: Material, poured: FormulaVersion) -> None:
    with pytest.raises(Conflict, match="none that can be worked out any more"):
        edit_material(material=oil, entry=MaterialEntry("Oil of the mill", oil.kind, oil.measure), at=world.now)


def test_a_certificate_of_a_lot_is_asked_too(world: World, oil: Material, poured: FormulaVersion) -> None:
    lot = world.lot("5000", material=oil)
    sent = {"actor": world.actor, "lot": lot, "name": "SAP", "value": Decimal(185), "unit": "", "at": world.now}
    with pytest.raises(Conflict) as refused:
        record_value(**sent)
    assert refused.value.code == "poured_lye_moves"
    assert not LotValue.objects.within(world.workshop).exists()
    record_value(**sent, lye_confirmed=refused.value.data["confirm"])
    assert LotValue.objects.within(world.workshop).get().value == 185


def test_the_page_asks_in_a_second_step_and_keeps_what_was_typed(world: World, oil: Material, poured: FormulaVersion) -> None:
    visitor = Visitor(world)
    typed = {"saponification_low": "195", "saponification_high": "197", "key": "", "allergen": "", "source": "the mill"}
    answer = visitor.post("material_facts", oil.pk, **typed)
    assert "Goat and oat, version 1: lye from" in text_of(answer)
    assert 'value="195"' in answer.content.decode()
    assert not MaterialFacts.objects.within(world.workshop).exists()
    confirm = confirmed_on(answer)
    # Another figure is asked about anew.
    again = visitor.post("material_facts", oil.pk, **typed | {"saponification_high": "199"}, lye_confirmed=confirm)
    assert "not what you read before" in text_of(again)
    assert visitor.post("material_facts", oil.pk, **typed, lye_confirmed=confirm).status_code == 302
    (deed,) = AuditEntry.objects.within(world.workshop).filter(code="material_facts")
    assert "saponification value, from not said → 195" in deed.said
    assert "Goat and oat, version 1: lye from" in deed.said


def confirmed_on(answer: Any) -> str:
    _before, found, rest = answer.content.decode().partition('name="lye_confirmed" value="')
    assert found
    return rest.partition('"')[0]


def test_the_page_of_the_material_and_of_its_lot_ask_too(world: World, oil: Material, poured: FormulaVersion) -> None:
    visitor, lot = Visitor(world), world.lot("5000", material=oil)
    typed = {"name": "SAP", "value": "175", "unit": ""}
    first = visitor.post("lot_value", lot.pk, **typed)
    assert "Does the certificate say SAP 175?" in text_of(first)
    second = visitor.post("lot_value", lot.pk, **typed, value_confirmed="SAP 175")
    assert "Goat and oat, version 1: lye from" in text_of(second)
    kept = {"value_confirmed": "SAP 175", "lye_confirmed": confirmed_on(second)}
    assert 'name="value_confirmed" value="SAP 175"' in second.content.decode()
    assert visitor.post("lot_value", lot.pk, **typed, **kept).status_code == 302
    renamed = {"name": "Coconut oil", "kind": "fat", "measure": "grams"}
    other = visitor.post("material_edit", oil.pk, **renamed)
    # The certificate stands over what it is called.
    assert other.status_code == 302, text_of(other)


def test_the_api_answers_409_and_takes_what_confirms_it(world: World, oil: Material, poured: FormulaVersion) -> None:
    device = Device(world)
    path = f"materials/{oil.pk}/facts/"
    body = {"saponification_low": "195", "saponification_high": "197"}
    refused = device.patch(path, body)
    assert refused.status_code == 409
    problem = refused.json()
    assert (problem["code"], problem["field"]) == ("poured_lye_moves", "lye_confirmed")
    assert problem["data"]["versions"][0]["version"] == poured.pk
    assert device.get(path).json()["saponification_low"] is None
    assert device.patch(path, body | {"lye_confirmed": "0" * 24}).status_code == 409
    taken = device.patch(path, body | {"lye_confirmed": problem["data"]["confirm"]})
    assert (taken.status_code, taken.json()["saponification_low"]) == (200, "195.00")
    (deed,) = AuditEntry.objects.within(world.workshop).filter(code="material_facts")
    assert "not said → 195" in deed.said
    assert "version 1: lye from" in deed.said
    assert device.patch(path, {"lye_confirmed": problem["data"]["confirm"]}).json()["code"] == "nothing"


def test_the_api_asks_for_a_name_and_a_certificate_too(world: World, oil: Material, poured: FormulaVersion) -> None:
    device, lot = Device(world), world.lot("5000", material=oil)
    for method, path, body in (
        (device.patch, f"materials/{oil.pk}/", {"name": "Coconut oil"}),
        (device.post, f"lots/{lot.pk}/values/", {"name": "SAP", "value": "251"}),
    ):
        refused = method(path, body)
        assert (refused.status_code, refused.json()["code"]) == (409, "poured_lye_moves")
        assert method(path, body | {"lye_confirmed": refused.json()["data"]["confirm"]}).status_code in (200, 201)


def test_the_page_of_a_version_names_who_changed_which_material(world: World, oil: Material, poured: FormulaVersion) -> None:
    visitor = Visitor(world)
    typed = {"saponification_low": "195", "saponification_high": "197", "key": "", "allergen": "", "source": "the mill"}
    answer = visitor.post("material_facts", oil.pk, **typed)
    visitor.post("material_facts", oil.pk, **typed, lye_confirmed=confirmed_on(answer))
    words = visitor.words("formula", poured.formula_id)
    assert "lots of today" not in words
    assert "What is known of Olive oil was changed since: it counted with 190 mg KOH per g and counts with 196 today" in words
    assert f"by {world.owner.name}" in words


def test_lots_of_today_are_named_where_they_are_why(world: World, oil: Material, poured: FormulaVersion) -> None:
    value_of_lot(world, world.lot("5000", material=oil), "185")
    words = Visitor(world).words("formula", poured.formula_id)
    assert "The lye is worked out for the lots of today" in words
    assert "Olive oil counted with 190 mg KOH per g and counts with 185 today, by its lots." in words
    assert "was changed since" not in words


def value_of_lot(world: World, lot: Lot, value: str) -> None:
    sent = {"actor": world.actor, "lot": lot, "name": "SAP", "value": Decimal(value), "unit": "", "at": world.now}
    read_and_confirmed(record_value, **sent)


def test_a_certificate_that_was_written_since_is_named_with_who_wrote_it(
    world: World, oil: Material, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    lot = world.lot("5000", material=oil)
    Lot.objects.within(world.workshop).update(written_at=world.days_ago(60))
    version = make(world, oil)
    pour(world, version)
    value_of_lot(world, lot, "185")
    words = Visitor(world).words("formula", version.formula_id)
    assert f"counts with 185 today, by the certificate of {lot}: SAP 185 was written since (last on " in words
    assert f" by {world.owner.name})" in words


def test_a_version_that_is_poured_again_says_it_of_its_last_pour(world: World, oil: Material, poured: FormulaVersion) -> None:
    entry = SAP
    know_material(material=oil, entry=entry, at=world.now, lye_confirmed=asked(world, oil, entry).data["confirm"])
    version = write_version(
        actor=world.actor, formula=poured.formula, at=world.now,
        entry=formula_entry(
            name="Goat and oat", superfat=Decimal("0.06"), liquid=Decimal(330), confirmed=READ,
            lines=(LineEntry(Role.FAT, material=oil, amount=Decimal(1000)), liquid("water", "330")),
        ),
    )  # fmt: skip
    pour(world, version, "131.3")
    assert "was changed since" not in Visitor(world).words("formula", poured.formula_id)
