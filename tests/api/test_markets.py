"""Markets and the calendar as a script asks for them."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.runs import plan_run
from curehouse.making.services.formulas import write_formula
from tests.api.device import Device, problem
from tests.formulas import formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


def day(world: World, days: int) -> str:
    return (world.now.date() + timedelta(days=days)).isoformat()


def test_a_market_is_written_changed_listed_and_called_off(world: World, device: Device) -> None:
    made = device.post("markets/", {"name": "Winter fair", "held_on": day(world, 30)}).json()
    assert (made["name"], made["held_on"], made["note"], made["called_off_at"]) == ("Winter fair", day(world, 30), "", None)
    moved = device.patch(f"markets/{made['id']}/", {"held_on": day(world, 31)}).json()
    assert (moved["name"], moved["held_on"]) == ("Winter fair", day(world, 31))
    problem(device.post("markets/", {"name": "winter fair", "held_on": day(world, 31)}), 400)
    problem(device.post("markets/", {"name": "Old fair", "held_on": day(world, -1)}), 400)
    assert [one["id"] for one in device.get("markets/", is_held="true").json()["results"]] == [made["id"]]
    assert device.post(f"markets/{made['id']}/call-off/", {}).json()["called_off_at"] is not None
    problem(device.post(f"markets/{made['id']}/call-off/", {}), 409)
    problem(device.patch(f"markets/{made['id']}/", {"name": "Fair"}), 409)


def test_the_calendar_tells_of_runs_racks_and_markets(world: World, device: Device) -> None:
    world.rack(levels=1, places=1, capacity=24)
    version = write_formula(actor=world.actor, entry=formula_entry(), at=world.now)
    on = world.now.date() + timedelta(days=5)
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=on, bars=30, at=world.now)
    device.post("markets/", {"name": "Summer fair", "held_on": day(world, 85)})
    told = device.get("calendar/").json()
    assert (told["room"], len(told["load"])) == (24, 91)
    assert [one["bars"] for one in told["load"][:7]] == [0, 0, 0, 0, 0, 0, 24]
    (of_run,) = told["runs"]
    assert (of_run["run"], of_run["pour_on"]) == (run.pk, day(world, 5))
    assert "no place is kept" in of_run["no_place"]
    (fair,) = told["markets"]
    assert (fair["name"], fair["bars"], fair["planned_bars"]) == ("Summer fair", 0, 27)
