"""Formulas through the API: written, refused with codes, confirmed, changed, worked out in a size."""

from decimal import Decimal
from typing import Any

import pytest

from curehouse.making.models import Formula, FormulaVersion
from curehouse.workshops.models import Member
from tests.api.device import Device, problem
from tests.api.test_batches import batch_body
from tests.formulas import READ
from tests.world import World

FATS = [{"role": "fat", "key": "olive", "amount": 700}, {"role": "fat", "key": "coconut", "amount": "300"}]
LIQUIDS = [
    {"role": "liquid", "key": "water", "amount": 150, "goes_in": "front"},
    {"role": "liquid", "key": "goat_milk", "per": "rest", "goes_in": "trace"},
]


def body(**changes: Any) -> dict[str, Any]:
    return {"name": "Goat's milk", "lines": [*FATS, *LIQUIDS], "superfat": "0.08", "liquid": 320, **changes}


def made(device: Device, **changes: Any) -> dict[str, Any]:
    answer = device.post("formulas/", body(**changes))
    assert answer.status_code == 201, answer.content
    return answer.json()


def test_a_formula_is_written_read_and_worked_out(device: Device) -> None:
    formula = made(device)
    assert device.get(f"formulas/{formula['id']}/").json() == formula
    version = device.get(f"versions/{formula['newest_version']}/").json()
    assert (version["number"], version["is_in_force"], version["is_poured"]) == (1, True, False)
    assert [line["name"] for line in version["lines"]] == ["olive oil", "coconut oil", "water", "goat's milk"]
    assert version["lines"][3]["amount"] is None
    figures = device.get(f"versions/{version['id']}/figures/").json()
    # (700 x 190 + 300 x 256.5) / 56106 x 39.997 x 0.92 = 137.697, by hand.
    assert figures["lye"][0]["weigh_g"] == 137.6
    assert [one["mass_g"] for one in figures["masses"]] == ["700.000", "300.000", "150.000", "170.000"]
    assert figures["summary"]["milk_share"] == pytest.approx(170 / 320)
    assert figures["summary"]["superfat"]["low"] < 0.08 < figures["summary"]["effective_superfat"]["middle"]
    # 150 g of water, and the water of 170 g of milk (86 to 89 %).
    assert figures["summary"]["free_water_g"]["middle"] == pytest.approx(150 + 170 * 0.8703, abs=1)
    assert [one["group"] for one in figures["fatty_acids"]][0] == "one_double"
    assert not figures["is_refused"]
    assert figures["cautions"]


@pytest.mark.parametrize(
    ("query", "olive_g"),
    [
        ({"fats_g": "2000"}, "1400.000"),
        ({"length_cm": 25, "width_cm": 8, "height_cm": 6}, "579.600"),
        ({"diameter_cm": 8, "height_cm": 10, "moulds": 2}, "485.600"),
    ],
)
def test_it_is_worked_out_in_another_size(device: Device, query: dict[str, Any], olive_g: str) -> None:
    version = made(device)["newest_version"]
    figures = device.get(f"versions/{version}/figures/", **query).json()
    assert figures["masses"][0]["mass_g"] == olive_g


@pytest.mark.parametrize(
    ("query", "code", "field"),
    [
        ({"fats_g": "0"}, "size", "fats_g"),
        ({"bars": 0, "cut_g": 100}, "bars", "bars"),
        ({"bars": 10}, "size", "by"),
        ({"height_cm": 10}, "mould", "length_cm"),
        ({"loss": "0.1"}, "size", "fats_g"),
        ({"weight": 10}, "unknown_field", "weight"),
    ],
)
def test_a_size_that_cannot_be_is_refused(device: Device, query: dict[str, Any], code: str, field: str) -> None:
    version = made(device)["newest_version"]
    problem(device.get(f"versions/{version}/figures/", **query), 400, code, field)


@pytest.mark.parametrize("wanted", ["0.05", "0.06", "0.08"])
def test_a_wanted_superfat_gives_the_setting_that_brings_it(world: World, device: Device, wanted: str) -> None:
    version = made(device)["newest_version"]
    setting = device.get(f"versions/{version}/figures/", effective=wanted).json()["setting"]
    assert (setting["effective"], setting["may_be_poured"]) == (float(wanted), True)
    assert setting["setting"] < float(wanted)
    other = made(device, name="As wanted", superfat=f"{setting['setting']:.4f}", confirmed=READ)["newest_version"]
    effective = device.get(f"versions/{other}/figures/").json()["summary"]["effective_superfat"]["middle"]
    # The lye is in whole steps, and never more than asked for.
    assert float(wanted) - 1e-9 <= effective < float(wanted) + 0.001


def test_a_setting_that_must_not_be_poured_says_so(device: Device) -> None:
    version = made(device)["newest_version"]
    setting = device.get(f"versions/{version}/figures/", effective="0").json()["setting"]
    assert (setting["may_be_poured"], setting["setting"] < 0) == (False, True)
    problem(device.get(f"versions/{version}/figures/", effective="0.9"), 400, "superfat", "effective")
    assert device.get(f"versions/{version}/figures/").json()["setting"] is None


def test_what_must_not_be_poured_is_refused_with_its_codes(world: World, device: Device) -> None:
    lines = [*FATS, {**LIQUIDS[0], "amount": 100}, LIQUIDS[1]]
    said = problem(device.post("formulas/", body(lines=lines)), 400, "formula_refused")
    assert said["data"]["codes"] == ["lye_over_solubility"]
    assert not Formula.objects.within(world.workshop).exists()


def test_what_a_person_has_to_read_is_kept_once_its_codes_come_along(world: World, device: Device) -> None:
    said = problem(device.post("formulas/", body(superfat="0.03")), 409, "formula_unconfirmed", "confirmed")
    assert said["data"]["codes"] == ["may_be_caustic"]
    (read,) = said["data"]["confirm"]
    lower = problem(device.post("formulas/", body(superfat="0.02", confirmed=[read])), 409, "formula_unconfirmed", "confirmed")
    assert float(lower["data"]["confirm"][0].split(":")[1]) < float(read.split(":")[1]) < 0
    problem(
        device.post("formulas/", body(superfat="0.03", confirmed=["may_be_caustic"])), 409, "formula_unconfirmed", "confirmed"
    )
    made(device, superfat="0.03", confirmed=[read])
    assert FormulaVersion.objects.within(world.workshop).get().confirmed == [read]


@pytest.mark.parametrize(
    ("changes", "status", "code", "field"),
    [
        ({"lines": LIQUIDS}, 400, "no_fats", "lines"),
        ({"lines": [*FATS, LIQUIDS[0]]}, 400, "liquid_sum", "lines"),
        ({"lines": [{"role": "fat", "key": "mink", "amount": 1}, *LIQUIDS]}, 400, "key", "lines"),
        ({"lines": [{"role": "fat", "material": 987654, "amount": 1}, *LIQUIDS]}, 404, "not_here", "lines"),
        ({"superfat": 5}, 400, "superfat", "superfat"),
        ({"liquid": 0}, 400, "not_positive", "liquid"),
        ({"scale": 987654}, 404, "not_here", "scale"),
        ({"naoh_share": "0.9"}, 400, "formula_refused", None),
    ],
)
def test_what_is_wrong_is_named(device: Device, changes: dict[str, Any], status: int, code: str, field: str | None) -> None:
    problem(device.post("formulas/", body(**changes)), status, code, field)


def test_a_change_before_the_pour_is_a_revision_and_after_it_a_version(world: World, device: Device) -> None:
    formula = made(device)
    path = f"formulas/{formula['id']}/versions/"
    second = device.post(path, body(superfat="0.09", over=formula["newest_version"])).json()
    assert (second["number"], second["revision"]) == (1, 2)
    problem(device.post(path, body(over=formula["newest_version"])), 409, "written_meanwhile")
    sent = batch_body(world, version=second["id"], fats_g="1000", lye_g="136.1")
    problem(device.post("batches/", sent), 400, "another_formula", "formula_name")
    del sent["formula_name"]
    batch = device.post("batches/", sent).json()
    assert (batch["version"], batch["formula"], batch["needs_check"]) == (second["id"], formula["id"], False)
    third = device.post(path, body(superfat="0.1")).json()
    assert (third["number"], third["revision"]) == (2, 1)
    assert [(one["number"], one["is_in_force"]) for one in device.rows(path)] == [(2, True), (1, True), (1, False)]


def test_a_pour_with_too_much_lye_is_asked_about(world: World, device: Device) -> None:
    sent = batch_body(world, version=made(device)["newest_version"], fats_g="1000", lye_g="160")
    del sent["formula_name"]
    said = problem(device.post("batches/", sent), 409, "lye_doubtful", "lye_g")
    assert said["data"]["guess_g"] == "137.600"
    batch = device.post("batches/", {**sent, "lye_confirmed": True}).json()
    assert batch["needs_check"] is True
    out = {"bars": 1, "purpose": "gift", "taken_at": world.now.isoformat(), "forced_reason": "asked"}
    problem(device.post(f"batches/{batch['id']}/take-outs/", out), 409, "check_needed", "purpose")


def test_a_batch_without_a_name_or_a_version_is_refused(world: World, device: Device) -> None:
    sent = batch_body(world)
    del sent["formula_name"]
    problem(device.post("batches/", sent), 400, "missing", "formula_name")


def test_the_workshops_own_figures_of_a_material_are_written_and_given_back(world: World, device: Device) -> None:
    olive = world.material()
    path = f"materials/{olive.pk}/facts/"
    assert device.get(path).json()["key"] == ""
    answer = device.patch(path, {"key": "olive", "saponification_low": "186", "saponification_high": 188})
    assert (answer.status_code, answer.json()["saponification_low"]) == (200, "186.00")
    answer = device.patch(path, {"saponification_low": None, "saponification_high": None, "source": "the mill"})
    assert (answer.json()["saponification_low"], answer.json()["key"]) == (None, "olive")
    problem(device.patch(path, {"key": "mink"}), 400, "key", "key")
    problem(device.patch(path, {"saponification_low": "0.13"}), 400, "saponification", "saponification_low")
    problem(device.patch(path, {"water_fraction": "1.2"}), 400, "fraction", "water_fraction")


def test_an_own_liquid_says_what_it_is_and_its_sugar(world: World, device: Device) -> None:
    path = f"materials/{world.material('Ewe', kind='liquid').pk}/facts/"
    said = {"liquid_kind": "milk", "water_fraction": "0.8", "fat_fraction": "0.08", "sugar_fraction": "0.05"}
    answer = device.patch(path, {**said, "allergen": "milk, " * 20 + "milk"})
    assert answer.status_code == 200, answer.json()
    assert (answer.json()["liquid_kind"], answer.json()["sugar_fraction"]) == ("milk", "0.0500")
    assert device.patch(path, {"liquid_kind": "", "sugar_fraction": None}).json()["liquid_kind"] == ""
    assert device.patch(path, {"liquid_kind": "cheese"}).status_code == 400
    problem(device.patch(path, {"sugar_fraction": "0.2"}), 400, "fraction", "fat_fraction")
    fat = f"materials/{world.material().pk}/facts/"
    problem(device.patch(fat, {"liquid_kind": "milk"}), 400, "kind", "liquid_kind")


def test_the_list_that_ships_says_where_each_figure_is_from(device: Device) -> None:
    listed = device.get("catalogue/").json()
    assert len(listed["fats"]) > 30
    assert all(one["source"] and one["how_sure"] for one in listed["fats"])
    assert all(one["source"] for one in listed["liquids"])
    assert {"key": "citric", "forms": ["anhydrous", "monohydrate"]} in listed["acids"]


def test_what_it_costs_is_told_to_who_may_know(world: World, device: Device) -> None:
    lot = world.lot(unit_cost=Decimal("0.0082"))
    lines = [{"role": "fat", "material": lot.material_id, "amount": 1000}, *LIQUIDS]
    version = made(device, lines=lines)["newest_version"]
    address = f"versions/{version}/figures/"
    figures = device.get(address).json()
    assert figures["lots"] == [{"material": lot.material_id, "lot": lot.pk, "mass_g": "1000.000"}]
    # 1000 g at 0.0082 EUR; of milk and lye no lot is named.
    assert figures["cost"] == {"total": "8.20", "currency": "EUR", "unknown": ["goat's milk", "lye"]}
    Member.objects.within(world.workshop).filter(user=world.owner).update(role=Member.Role.HELPER)
    assert device.get(address).json()["cost"] is None


def test_a_formula_is_taken_out_of_use_and_up_again(device: Device) -> None:
    formula = made(device)
    assert formula["retired_at"] is None
    for _twice in range(2):
        retired = device.post(f"formulas/{formula['id']}/retire/").json()
        assert retired["retired_at"] is not None
    assert [row["id"] for row in device.rows("formulas/", in_use="false")] == [formula["id"]]
    problem(device.post(f"formulas/{formula['id']}/versions/", body()), 409, "retired", "name")
    assert device.post(f"formulas/{formula['id']}/take-up/").json()["retired_at"] is None
    assert device.rows("formulas/", in_use="false") == []
