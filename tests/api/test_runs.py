"""Runs at the API: checked, planned, moved, called off, reserved anew."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from inventory.services.orders import send_order, write_order
from tests.api.device import Device, problem
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    olive = world.material("Olive oil", kind="fat")
    lines = (fat("olive", "700", material=olive), fat("coconut", "300"), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def day(world: World, days: int) -> str:
    return (world.now.date() + timedelta(days=days)).isoformat()


def sent(world: World, version: FormulaVersion, days: int = 10, **more: Any) -> dict[str, Any]:
    return {"version": version.pk, "fats_g": "2000", "pour_on": day(world, days), **more}


def test_a_run_is_planned_and_shown_with_what_it_takes(world: World, device: Device, version: FormulaVersion) -> None:
    answer = device.post("runs/", sent(world, version, note="For the fair."))
    assert answer.status_code == 201, answer.content
    run = answer.json()
    assert (run["state"], run["pour_on"], run["announced_on"]) == ("planned", day(world, 10), day(world, 0))
    assert [one["amount_g"] for one in run["reserved"]] == ["1400.000"]
    assert [(one["what"], one["signed_by"]) for one in run["changes"]] == [("planned", "Bench tablet")]
    assert device.rows("runs/", formula=version.formula_id) == [run]


def test_it_is_moved_reserved_anew_and_called_off_once(world: World, device: Device, version: FormulaVersion) -> None:
    key = device.post("runs/", sent(world, version)).json()["id"]
    moved = device.post(f"runs/{key}/move/", {"pour_on": day(world, 17), "why": "the milk comes later"}).json()
    assert (moved["pour_on"], moved["announced_on"]) == (day(world, 17), day(world, 0))
    larger = device.post(f"runs/{key}/reserve/", {"fats_g": "3000"}).json()
    assert [one["amount_g"] for one in larger["reserved"]] == ["2100.000"]
    assert [one["fats_g"] for one in larger["changes"]] == ["2000.000", "2000.000", "3000.000"]
    assert larger["standing"] == "short"
    assert [(one["name"], one["likely_g"], one["safe_g"]) for one in larger["short"]] == [("Olive oil", 2100.0, 2100.0)]
    over = device.post(f"runs/{key}/call-off/", {"why": "no market"}).json()
    assert (over["state"], over["reserved"]) == ("called_off", [])
    problem(device.post(f"runs/{key}/call-off/", {"why": "no market"}), 409, "run_over")


def test_a_check_says_what_a_page_says_and_keeps_nothing(world: World, device: Device, version: FormulaVersion) -> None:
    lot = world.lot("1000")
    found = device.get(f"versions/{version.pk}/run-check/", fats_g="2000", pour_on=day(world, 10)).json()
    (olive,) = found["materials"]
    assert olive["likely"] == {
        "needed_g": 1400.0,
        "here_g": 1000.0,
        "coming_g": 0.0,
        "taken_before_g": 0.0,
        "kept_for_later_g": 0.0,
        "free_g": 1000.0,
        "short_g": 400.0,
        "made_up_g": 0.0,
        "takes": [{"lot": lot.pk, "order": None, "amount_g": 1000.0}],
    }
    assert found["likely"] == {"possible": False, "first_day": None, "first_day_if_ordered_today": None}
    assert ("coconut oil", "600.000") in [(one["name"], one["amount_g"]) for one in found["not_kept"]]
    assert (found["standing"], found["dayless"]) == ("short", [])
    assert not Run.objects.within(world.workshop).exists()


def test_a_check_names_what_is_on_its_way_of_which_nobody_knows_the_day(world: World, device: Device, version) -> None:
    offer = world.offer()
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 2}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)
    found = device.get(f"versions/{version.pk}/run-check/", fats_g="2000", pour_on=day(world, 10)).json()
    assert [(one["order"], one["name"], one["amount_g"]) for one in found["dayless"]] == [(order.pk, "Olive oil", "2000.000")]


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"pour_on": "2026-03-01"}, 400, "past"),
        ({"fats_g": "0"}, 400, None),
        ({"version": 987654321}, 404, "not_here"),
        ({"pour_on": "soon"}, 400, "invalid"),
    ],
)
def test_what_cannot_be_is_answered_in_words(world: World, device: Device, version, change, status: int, code) -> None:
    problem(device.post("runs/", sent(world, version) | change), status, code)
    assert not Run.objects.within(world.workshop).exists()


def test_a_batch_is_entered_for_a_run_or_named_later(world: World, device: Device, version: FormulaVersion) -> None:
    runs = [device.post("runs/", sent(world, version, days=0)).json()["id"] for _ in range(2)]
    batch = {"version": version.pk, "poured_at": world.now.isoformat(), "fats_g": "2000", "lye_g": "270", "lye_confirmed": True,
             "water_share_stated": "0.25"}  # fmt: skip
    first = device.post("batches/", {**batch, "run": runs[0]})
    assert first.status_code == 201, first.content
    assert device.get(f"runs/{runs[0]}/").json()["batch"] == first.json()["id"]
    problem(device.post(f"runs/{runs[1]}/pour/", {"batch": first.json()["id"]}), 409, "batch_taken")
    second = device.post("batches/", batch).json()["id"]
    assert device.post(f"runs/{runs[1]}/pour/", {"batch": second}).json()["state"] == "poured"
    problem(device.post("batches/", {**batch, "run": 987654}), 404, "not_here")


def test_a_run_that_is_short_is_planned_all_the_same(world: World, device: Device, version: FormulaVersion) -> None:
    assert device.post("runs/", sent(world, version, fats_g="90000")).status_code == 201
    assert Run.objects.within(world.workshop).get().fats_g == Decimal(90000)
