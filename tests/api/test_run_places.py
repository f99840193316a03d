"""Places for runs as a script asks for them and keeps them."""

from datetime import date, timedelta

import pytest

from curehouse.curing.models import Occupancy
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from tests.api.device import Device, problem
from tests.formulas import formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    world.rack(levels=1, places=2, capacity=24)
    return write_formula(actor=world.actor, entry=formula_entry(), at=world.now)


def day(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def test_what_is_told_is_kept_and_shown_with_the_run(world: World, device: Device, version: FormulaVersion) -> None:
    asked = {"fats_g": "2000", "pour_on": day(world, 5).isoformat(), "bars": 50}
    told = device.get(f"versions/{version.pk}/places/", **asked).json()
    assert (told["bars"], told["lacking"], told["cut_on"]) == (50, 2, day(world, 6).isoformat())
    assert [one["bars"] for one in told["places"]] == [24, 24]
    assert told["pour_first_on"] is None
    run = device.post("runs/", {"version": version.pk, **asked}).json()
    kept = run["expected_cure"]
    assert {name: kept[name] for name in ("bars", "cut_on", "half_dry_on", "stays_until", "is_told")} == {
        name: told[name] for name in ("bars", "cut_on", "half_dry_on", "stays_until", "is_told")
    }
    assert kept["places"] == [{"position": one["position"], "bars": one["bars"]} for one in told["places"]]
    smaller = device.post(f"runs/{run['id']}/places/", {"bars": 20}).json()
    assert [one["bars"] for one in smaller["expected_cure"]["places"]] == [20]
    off = device.post(f"runs/{run['id']}/call-off/", {"why": "no market"}).json()
    assert off["expected_cure"] is None


def test_a_cut_puts_the_bars_where_places_were_kept(world: World, device: Device, version: FormulaVersion) -> None:
    asked = {"fats_g": "2000", "pour_on": day(world, 0).isoformat(), "bars": 30}
    run = device.post("runs/", {"version": version.pk, **asked}).json()
    entry = world.batch_entry(cut_days_ago=None, formula_name=version.formula.name)
    batch = enter_batch(
        actor=world.actor, entry=entry, rack=RackEntry(), run=Run.objects.within(world.workshop).get(pk=run["id"]), at=world.now
    )
    sent = {"cut_at": world.now.isoformat(), "bars": 30, "at_kept": True}
    assert device.post(f"batches/{batch.pk}/cut/", sent).status_code in (200, 201)
    rows = Occupancy.objects.within(world.workshop).filter(batch=batch).standing().order_by("position")
    assert [row.bars for row in rows] == [24, 6]


def test_how_many_bars_has_to_be_said_where_nobody_knows(world: World, device: Device, version: FormulaVersion) -> None:
    asked = {"fats_g": "2000", "pour_on": day(world, 5).isoformat()}
    told = problem(device.get(f"versions/{version.pk}/places/", **asked), 400)
    assert "say how many" in str(told)
    run = device.post("runs/", {"version": version.pk, **asked}).json()
    assert (run["bars"], run["expected_cure"]) == (None, None)
    problem(device.post(f"runs/{run['id']}/places/", {}), 400)
    problem(device.post(f"runs/{run['id']}/places/", {"bars": 0}), 400)
