"""Batches through the API: entered, cut, checked, taken out."""

from datetime import timedelta
from typing import Any

import pytest

from curehouse.making.models import Batch
from curehouse.workshops.services import change_preferences
from tests.api.device import Device, problem
from tests.world import World


def batch_body(world: World, **changes: Any) -> dict[str, Any]:
    cut_at = world.days_ago(30)
    sent: dict[str, Any] = {
        "formula_name": "Goat & oat",
        "poured_at": (cut_at - timedelta(days=1)).isoformat(),
        "cut_at": cut_at.isoformat(),
        "bars": 24,
        "fats_g": "2000",
        "lye_g": 283.5,
        "liquids": [{"kind": "water", "mass_g": 420}, {"kind": "goat_milk", "mass_g": "220.5", "place": "trace"}],
    }
    return sent | changes


def test_a_batch_is_entered_with_its_sample_bars_and_place(world: World, device: Device) -> None:
    position = world.position(world.rack())
    answer = device.post("batches/", batch_body(world, position=position.pk, sample_bars=4))
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["name"], made["state"], made["bars_left"]) == ("Goat & oat 1", "curing", 24)
    assert (made["fats_g"], made["lye_g"], made["liquids"][1]["mass_g"]) == ("2000.000", "283.500", "220.500")
    assert made["cure"]["state"] == "curing"
    assert [bar["letter"] for bar in device.rows("sample-bars/", batch=made["id"])] == ["A", "B", "C", "D"]
    assert device.get(f"positions/{position.pk}/").json()["standing"] == [{"batch": made["id"], "bars": 24}]
    assert device.get(f"batches/{made['id']}/").json() == made


def test_a_fraction_stays_the_figure_that_was_sent(world: World, device: Device) -> None:
    body = batch_body(world, fats_g=2000.1, lye_g="283.457")
    made = device.post("batches/", body).json()
    assert (made["fats_g"], made["lye_g"]) == ("2000.100", "283.457")


def test_a_batch_poured_and_not_cut_is_cut_later(world: World, device: Device) -> None:
    body = batch_body(world)
    del body["cut_at"], body["bars"]
    poured = device.post("batches/", body).json()
    assert (poured["state"], poured["cure"]) == ("poured", None)
    sent = {"cut_at": world.days_ago(29).isoformat(), "bars": 20}
    cut = device.post(f"batches/{poured['id']}/cut/", sent)
    assert (cut.status_code, cut.json()["state"], cut.json()["bars_left"]) == (200, "curing", 20)
    problem(device.post(f"batches/{poured['id']}/cut/", sent), 409, "cut_already", "cut_at")


BAD_BATCHES: list[tuple[dict[str, Any], str, str]] = [
    ({"formula_name": "   "}, "blank", "formula_name"),
    ({"formula_name": None}, "null", "formula_name"),
    ({"formula_name": "x" * 121}, "too_long", "formula_name"),
    ({"formula_name": "a\x00b"}, "null_characters_not_allowed", "formula_name"),
    ({"formula_name": ["Goat"]}, "invalid", "formula_name"),
    ({"poured_at": "2026-03-01T10:00:00"}, "naive", "poured_at"),
    ({"poured_at": "2026-03-01"}, "naive", "poured_at"),
    ({"poured_at": 20260301}, "invalid", "poured_at"),
    ({"poured_at": "0001-01-01T00:00:00+14:00"}, "overflow", "poured_at"),
    ({"poured_at": "9999-12-31T23:59:59-14:00"}, "overflow", "poured_at"),
    ({"poured_at": "2150-01-01T00:00:00Z", "cut_at": None}, "future", "poured_at"),
    ({"cut_at": "2020-01-01T00:00:00Z"}, "cut_before_pour", "cut_at"),
    ({"bars": 0}, "bars", "bars"),
    ({"bars": -3}, "bars", "bars"),
    ({"bars": 10**12}, "max_value", "bars"),
    ({"bars": 2.5}, "invalid", "bars"),
    ({"bars": True}, "invalid", "bars"),
    ({"fats_g": 0}, "mass", "fats_g"),
    ({"fats_g": "-5"}, "mass", "fats_g"),
    ({"fats_g": "NaN"}, "invalid", "fats_g"),
    ({"fats_g": "Infinity"}, "invalid", "fats_g"),
    ({"fats_g": "1_000"}, "invalid", "fats_g"),
    ({"fats_g": "2000,5"}, "invalid", "fats_g"),
    ({"fats_g": "\u0662\u0660\u0660\u0660"}, "invalid", "fats_g"),
    ({"fats_g": ""}, "invalid", "fats_g"),
    ({"fats_g": True}, "invalid", "fats_g"),
    ({"fats_g": {"g": 1}}, "invalid", "fats_g"),
    ({"fats_g": "1e999"}, "max_digits", "fats_g"),
    ({"fats_g": 0.1234}, "max_decimal_places", "fats_g"),
    ({"fats_g": "9" * 2000}, "max_string_length", "fats_g"),
    ({"fats_g": "99999999"}, "max_whole_digits", "fats_g"),
    ({"lye_g": "5000"}, "lye_over_fats", "lye_g"),
    ({"liquids": []}, "no_liquid", "liquids"),
    ({"liquids": [{"kind": "moon dew", "mass_g": 5}]}, "liquid", "liquids"),
    ({"liquids": [{"kind": "water", "mass_g": 0}]}, "mass", "liquids"),
    ({"liquids": [{"kind": "water", "mass_g": 600, "water_fraction": 2}]}, "fraction", "liquids"),
    ({"liquids": [{"kind": "water", "mass_g": 600, "place": "ear"}]}, "invalid_choice", "liquids.0.place"),
    ({"liquids": [{"kind": "water", "mass_g": 600, "temperature": 30}]}, "unknown_field", "liquids.0.temperature"),
    ({"liquids": [{"kind": "water", "mass_g": 1}] * 21}, "max_length", "liquids"),
    ({"liquids": {"kind": "water"}}, "not_a_list", "liquids"),
    ({"liquids": [[1]]}, "invalid", "liquids.0"),
    ({"water_share_stated": "0.9"}, "water_share", "water_share_stated"),
    ({"sample_bars": 0}, "sample_bars", "sample_bars"),
    ({"sample_bars": 50}, "sample_bars", "sample_bars"),
    ({"position": 4711}, "not_here", "position"),
    ({"position": -1}, "min_value", "position"),
    ({"when_full": "squeeze"}, "invalid_choice", "when_full"),
    ({"fat_g": 3}, "unknown_field", "fat_g"),
]


def test_a_batch_that_cannot_be_right_is_refused_and_not_written(world: World, device: Device) -> None:
    for changes, code, field in BAD_BATCHES:
        status = 404 if code == "not_here" else 400
        problem(device.post("batches/", batch_body(world, **changes)), status, code, field)
    assert not Batch.objects.within(world.workshop).exists()


def test_a_position_of_the_house_next_door_is_not_here(world: World, stranger: World, device: Device) -> None:
    theirs = stranger.position(stranger.rack())
    body = problem(device.post("batches/", batch_body(world, position=theirs.pk)), 404, "not_here", "position")
    ours = problem(device.post("batches/", batch_body(world, position=10**6)), 404, "not_here", "position")
    assert body["detail"] == ours["detail"]


def test_a_full_position_is_answered_with_the_ways_out(world: World, device: Device) -> None:
    position = world.position(world.rack(capacity=10))
    answer = problem(device.post("batches/", batch_body(world, position=position.pk)), 409, "position_full", "position")
    assert (answer["data"]["raise_to"], answer["data"]["rest"]) == (24, 14)
    body = batch_body(world, position=position.pk, when_full="elsewhere")
    assert device.post("batches/", body).status_code == 201


@pytest.fixture
def checked_world(world: World) -> World:
    """Return a house with a written limit for its safety check."""
    change_preferences(workshop=world.workshop, changes={"check_method": "pH strip", "check_limit": "at most 10"})
    return world


def check_body(world: World, **changes: Any) -> dict[str, Any]:
    return {"method": "pH strip", "value": "9.5", "passed": True, "checked_at": world.days_ago(1).isoformat()} | changes


def test_a_check_is_recorded_by_the_houses_own_limit(checked_world: World, device: Device) -> None:
    batch = checked_world.batch()
    answer = device.as_person(f"batches/{batch.pk}/checks/", check_body(checked_world))
    assert (answer.status_code, answer.json()["limit"], answer.json()["passed"]) == (201, "at most 10", True)
    assert device.rows(f"batches/{batch.pk}/checks/") == [answer.json()]


def test_a_check_cannot_pass_without_a_written_limit_but_can_fail(world: World, device: Device) -> None:
    path = f"batches/{world.batch().pk}/checks/"
    problem(device.as_person(path, check_body(world)), 409, "no_limit", "passed")
    answer = device.post(path, check_body(world, passed=False))
    assert (answer.status_code, answer.json()["limit"], answer.json()["passed"]) == (201, "", False)


def test_a_device_tells_of_a_check_that_failed_and_passes_none(checked_world: World, device: Device) -> None:
    path = f"batches/{checked_world.batch().pk}/checks/"
    problem(device.post(path, check_body(checked_world)), 403, "person_only")
    assert device.rows(path) == []
    assert device.post(path, check_body(checked_world, passed=False)).status_code == 201


def test_a_check_that_cannot_be_right_is_refused(checked_world: World, device: Device) -> None:
    path = f"batches/{checked_world.batch().pk}/checks/"
    for changes, code, field in (
        ({"passed": "perhaps"}, "invalid", "passed"),
        ({"passed": None}, "null", "passed"),
        ({"value": ""}, "blank", "value"),
        ({"checked_at": "2150-01-01T00:00:00Z"}, "future", "checked_at"),
        ({"checked_at": "2020-01-01T00:00:00Z"}, "before_cut", "checked_at"),
        ({"limit": "at most 14"}, "unknown_field", "limit"),
    ):
        problem(device.post(path, check_body(checked_world, **{"passed": False, **changes})), 400, code, field)
    assert device.rows(path) == []


def take_body(world: World, **changes: Any) -> dict[str, Any]:
    return {"bars": 4, "purpose": "gift", "taken_at": world.days_ago(1).isoformat()} | changes


def test_bars_are_taken_out_of_a_batch_that_is_not_ready_with_a_reason(world: World, device: Device) -> None:
    path = f"batches/{world.batch().pk}/take-outs/"
    problem(device.post(path, take_body(world)), 409, "not_ready", "forced_reason")
    answer = device.post(path, take_body(world, forced_reason="for my own bath"))
    assert (answer.status_code, answer.json()["bars"], answer.json()["state_then"]) == (201, 4, "curing")
    assert device.rows(path) == [answer.json()]
    assert device.rows("batches/")[0]["bars_left"] == 20


def test_bars_whose_last_check_failed_go_to_nobody(checked_world: World, device: Device) -> None:
    batch = checked_world.batch()
    device.post(f"batches/{batch.pk}/checks/", check_body(checked_world, passed=False))
    body = take_body(checked_world, forced_reason="a friend asked")
    problem(device.post(f"batches/{batch.pk}/take-outs/", body), 409, "check_failed", "purpose")


def test_a_take_out_that_cannot_be_right_is_refused(world: World, device: Device) -> None:
    path = f"batches/{world.batch().pk}/take-outs/"
    for changes, code, field in (
        ({"bars": 25}, "bars", "bars"),
        ({"bars": 0}, "bars", "bars"),
        ({"purpose": "barter"}, "invalid_choice", "purpose"),
        ({"taken_at": "2150-01-01T00:00:00Z"}, "moment", "taken_at"),
    ):
        problem(device.post(path, take_body(world, forced_reason="why not", **changes)), 400, code, field)
    assert device.rows(path) == []


def test_a_character_beyond_the_first_plane_stays_whole(world: World, device: Device) -> None:
    made = device.post("batches/", batch_body(world, formula_name="Goat 🐐 & Öl")).json()
    assert made["formula_name"] == "Goat 🐐 & Öl"


def test_doubtful_lye_is_answered_with_its_bounds_until_it_is_confirmed(world: World, device: Device) -> None:
    answer = problem(device.post("batches/", batch_body(world, lye_g="420")), 409, "lye_doubtful", "lye_g")
    assert answer["data"] == {
        "lye_g": "420.000",
        "koh_g": "0.000",
        "low_g": 182.5,
        "high_g": 377.8,
        "guess_g": "220.500",
        "is_swapped": True,
    }
    assert "Too much lye burns skin" in answer["detail"]
    slipped = problem(device.post("batches/", batch_body(world, lye_g="28.35")), 409, "lye_doubtful", "lye_g")
    assert (slipped["data"]["guess_g"], "Perhaps it was 283.5 g." in slipped["detail"]) == ("283.500", True)
    assert not Batch.objects.within(world.workshop).exists()
    made = device.post("batches/", batch_body(world, lye_g="420", lye_confirmed=True))
    assert (made.status_code, made.json()["lye_g"], made.json()["lye_confirmed"]) == (201, "420.000", True)
    usual = device.post("batches/", batch_body(world, lye_confirmed=True)).json()
    assert usual["lye_confirmed"] is False
    problem(device.post("batches/", batch_body(world, lye_confirmed="surely")), 400, "invalid", "lye_confirmed")
