"""Formulas through the API: written, refused with codes, confirmed, changed, worked out in a size."""

from decimal import Decimal
from typing import Any

import pytest

from curehouse.making.models import Formula, FormulaVersion
from curehouse.workshops.models import Member
from curehouse.workshops.services import add_scale
from inventory.services.lots import record_value
from tests.api.device import Device, problem
from tests.api.test_batches import batch_body
from tests.web.visitor import Visitor
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
    if answer.status_code == 409:
        # As a person does who reads what stands there.
        answer = device.post("formulas/", body(**changes, confirmed=answer.json()["data"]["confirm"]))
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
        ({"fats_g": 2000, "bars": 10, "cut_g": 100}, "size_twice", "bars"),
        ({"fats_g": 2000, "height_cm": 6}, "size_twice", "height_cm"),
        ({"fats_g": 2000, "loss": "0.1"}, "size_twice", "loss"),
        ({"bars": 10, "cut_g": 100, "moulds": 2}, "size_twice", "bars"),
        ({"diameter_cm": 8, "length_cm": 25, "width_cm": 8, "height_cm": 6}, "size_twice", "diameter_cm"),
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
    other = made(device, name="As wanted", superfat=f"{setting['setting']:.4f}")["newest_version"]
    effective = device.get(f"versions/{other}/figures/").json()["summary"]["effective_superfat"]["middle"]
    # The lye is in whole steps, and never more than asked for.
    assert float(wanted) - 1e-9 <= effective < float(wanted) + 0.001


@pytest.mark.parametrize("read", ["may_be_caustic:-1", "may_be_caustic:-0.5", "may_be_caustic", "may_be_caustic:-0.0001"])
def test_only_the_figure_that_was_shown_confirms(device: Device, read: str) -> None:
    sent = body(superfat="0.02")
    asked = problem(device.post("formulas/", sent), 409, "formula_unconfirmed", "confirmed")
    again = problem(device.post("formulas/", {**sent, "confirmed": [read]}), 409, "formula_unconfirmed", "confirmed")
    assert again["data"]["confirm"] == asked["data"]["confirm"]
    assert device.post("formulas/", {**sent, "confirmed": [read, *asked["data"]["confirm"]]}).status_code == 201


def test_the_value_that_counts_is_told_with_its_source_and_how_sure_it_is(world: World, device: Device) -> None:
    formula = made(device, lines=[{**FATS[0], "saponification": "190"}, FATS[1], *LIQUIDS])
    olive, coconut = device.get(f"versions/{formula['newest_version']}/figures/").json()["saponification"]
    assert (olive["by"], olive["value"]["middle"], olive["source"]) == ("certificate", 190.0, "")
    assert coconut == {
        "name": "coconut oil", "value": {"low": 248.0, "middle": 256.5, "high": 265.0}, "by": "list",
        "source": "Codex CXS 210, Table 2", "how_sure": "from memory", "has_open_lot": False,
    }  # fmt: skip
    words = Visitor(world).words("formula", formula["id"])
    assert "coconut oil Codex CXS 210, Table 2, from memory 256.5 248 to 265" in words
    assert "olive oil by certificate, give or take what the method may be off 190 189.1 to 190.9" in words


@pytest.mark.parametrize(("value", "code"), [("256", "certificate_far_outside"), ("398", "certificate_far_outside")])
def test_a_value_that_no_lot_has_is_refused(device: Device, value: str, code: str) -> None:
    lines = [{**FATS[0], "saponification": value}, *LIQUIDS]
    refused = problem(device.post("formulas/", body(lines=lines)), 400, "formula_refused")
    assert code in refused["data"]["codes"]
    sent = body(lines=lines, confirmed=[f"certificate_outside_range:olive oil:{value}"])
    problem(device.post("formulas/", sent), 400, "formula_refused")


@pytest.mark.parametrize(("value", "is_refused"), [("205", False), ("256", True)])
def test_no_lye_is_shown_by_a_lot_s_value_that_nobody_read(world: World, device: Device, value: str, is_refused: bool) -> None:
    olive = world.material("Olive oil")
    lines = [{"role": "fat", "material": olive.pk, "amount": 1000}, *LIQUIDS]
    formula = made(device, lines=lines)
    first = formula["newest_version"]
    assert device.get(f"versions/{first}/figures/").json()["lye"]
    lot = world.lot("5000", material=olive)
    record_value(
        actor=world.actor, lot=lot, name="Saponification value", value=Decimal(value), unit="mg KOH/g", at=world.now,
    )  # fmt: skip
    figures = device.get(f"versions/{first}/figures/").json()
    assert (figures["lye"], figures["is_refused"]) == ([], is_refused)
    assert figures["unread"] == ([] if is_refused else [f"certificate_outside_range:Olive oil:{value}"])
    assert device.get(f"versions/{first}/figures/", fats_g=2000).json()["lye"] == []
    page = Visitor(world).words("formula", formula["id"])
    assert "sodium hydroxide (NaOH) counted" not in page
    if is_refused:
        return
    assert "No lye is shown until somebody has read it" in page
    sent = body(lines=lines, over=first)
    asked = problem(device.post(f"formulas/{formula['id']}/versions/", sent), 409, "formula_unconfirmed", "confirmed")
    version = device.post(f"formulas/{formula['id']}/versions/", {**sent, "confirmed": asked["data"]["confirm"]}).json()
    assert device.get(f"versions/{version['id']}/figures/").json()["lye"]
    assert "sodium hydroxide (NaOH) counted" in Visitor(world).words("formula", formula["id"])


@pytest.mark.parametrize("superfat", ["-0.0001", "-0.01", "-0.5"])
def test_a_setting_below_zero_is_refused_before_anything_is_rounded(device: Device, superfat: str) -> None:
    problem(device.post("formulas/", body(superfat=superfat)), 400, "superfat_below_zero", "superfat")
    problem(
        device.post("formulas/", body(superfat=superfat, confirmed=["may_be_caustic:-0.0121"])),
        400,
        "superfat_below_zero",
        "superfat",
    )


def test_so_little_fat_that_no_scale_shows_it_is_refused(device: Device) -> None:
    lines = [{"role": "fat", "key": "olive", "amount": "0.001"}, {**LIQUIDS[0], "amount": "0.001"}]
    problem(device.post("formulas/", body(lines=lines, liquid="0.001")), 400, "too_small", "lines")


@pytest.mark.parametrize("fats_g", ["0.001", "0.4", "3", "10", "999999"])
def test_any_size_is_answered(world: World, device: Device, fats_g: str) -> None:
    add_scale(workshop=world.workshop, name="Old", step_g=Decimal(5))
    scent = {"role": "fragrance", "name": "Lavender", "amount": 30, "most_share": "0.03"}
    version = made(device, lines=[*FATS, *LIQUIDS, scent])["newest_version"]
    answer = device.get(f"versions/{version}/figures/", fats_g=fats_g)
    assert answer.status_code in (200, 400), answer.content


def test_a_batch_of_less_than_the_scale_shows_is_answered(world: World, device: Device) -> None:
    version = made(device)["newest_version"]
    sent = batch_body(world, formula_name="Goat's milk", version=version, fats_g="0.3", lye_g="0.1", confirm_lye=True)
    assert device.post("batches/", sent).status_code in (201, 400, 409)


def test_a_size_said_twice_is_answered_with_both(device: Device) -> None:
    version = made(device)["newest_version"]
    said = problem(device.get(f"versions/{version}/figures/", fats_g=2000, bars=10), 400, "size_twice", "bars")
    assert said["detail"] == "The size is said twice, by fats_g and by bars: send one of them."


def test_a_setting_that_may_be_caustic_says_so_with_its_low_end(device: Device) -> None:
    water = [*FATS, {"role": "liquid", "key": "water", "amount": 320, "goes_in": "front"}]
    version = made(device, lines=water)["newest_version"]
    setting = device.get(f"versions/{version}/figures/", effective="0").json()["setting"]
    assert (setting["setting"], setting["may_be_poured"]) == (0.0, True)
    finding = setting["finding"]
    assert (finding["code"], finding["needs_confirming"], finding["needs_check"]) == ("may_be_caustic", True, True)
    assert finding["figures"]["low_share"] < -0.02
    assert finding["says"].startswith("May be caustic")
    # The same state as when it is written down with this setting.
    other = problem(
        device.post("formulas/", body(name="At 0", lines=water, superfat="0")), 409, "formula_unconfirmed", "confirmed"
    )
    assert other["data"]["codes"] == ["may_be_caustic"]
    assert device.get(f"versions/{version}/figures/", effective="0.2").json()["setting"]["finding"] is None


def test_a_setting_that_must_not_be_poured_says_so(device: Device) -> None:
    version = made(device)["newest_version"]
    setting = device.get(f"versions/{version}/figures/", effective="0").json()["setting"]
    assert (setting["may_be_poured"], setting["setting"] < 0) == (False, True)
    assert setting["finding"]["code"] == "superfat_below_zero"
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


def test_a_row_that_a_material_is_not_called_like_is_confirmed_by_its_key(world: World, device: Device) -> None:
    path = f"materials/{world.material().pk}/facts/"
    answer = device.patch(path, {"key": "coconut"})
    problem(answer, 409, "key_doubtful", "key")
    assert answer.json()["data"]["confirm"] == "coconut"
    assert device.get(path).json()["key"] == ""
    problem(device.patch(path, {"key": "coconut", "key_confirmed": "palm"}), 409, "key_doubtful", "key")
    assert device.patch(path, {"key": "coconut", "key_confirmed": "coconut"}).json()["key"] == "coconut"


def test_a_line_called_like_another_fat_is_confirmed_before_it_is_kept(device: Device) -> None:
    lines = [{"role": "fat", "key": "coconut", "name": "olive oil", "amount": 1000}]
    lines += [{"role": "liquid", "key": "water", "amount": 330, "goes_in": "front"}]
    answer = device.post("formulas/", body(lines=lines, liquid=330))
    problem(answer, 409, "formula_unconfirmed", "confirmed")
    assert answer.json()["data"]["confirm"] == ["name_says_other:olive oil:coconut 248 to 265"]
    assert "olive oil (184 to 196 mg KOH per g)" in answer.json()["detail"]
    made(device, lines=lines, liquid=330, confirmed=answer.json()["data"]["confirm"])


def test_a_row_beside_a_material_that_is_another_is_refused(world: World, device: Device) -> None:
    lines = [{"role": "fat", "key": "coconut", "material": world.material().pk, "amount": 1000}, *LIQUIDS]
    problem(device.post("formulas/", body(lines=lines)), 400, "other_key", "lines")


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
    assert {"key": "citric", "forms": ["anhydrous", "monohydrate", "solution"]} in listed["acids"]


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
