"""A pour at the table through the API: the same verbs, the same answers."""

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.flows.runs import plan_run
from curehouse.making.models import Batch, PourStep
from inventory.models import Movement
from tests.api.device import Device, problem
from tests.pouring import Bench
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


def say(device: Device, pour: int, kind: str, **more: Any) -> HttpResponse:
    return device.post(f"pours/{pour}/steps/", {"client_id": str(uuid.uuid4()), "kind": kind, **more})


def begun(device: Device, bench: Bench) -> int:
    answer = device.post("pours/", {"version": bench.version.pk, "fats_g": "1000"})
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def weighed_to(device: Device, bench: Bench, until: str) -> int:
    """Begin a pour and do each step as it is meant, up to one."""
    pour = begun(device, bench)
    shown = device.get(f"pours/{pour}/").json()
    while (key := shown["next"]) not in (None, until):
        line = next((one for one in shown["lines"] if one["slot"] == key), None)
        more: dict[str, Any] = {}
        if line is not None:
            more = {"slot": key, "amount_g": line["target_g"], "lot": bench.lots[key].pk if key in bench.lots else None}
        elif key in ("lye_temp", "fats_temp"):
            more = {"celsius": "38.5"}
        answer = say(device, pour, "weighed" if line is not None else key, **more)
        assert answer.status_code == 200, answer.content
        shown = answer.json()
    return pour


def test_a_pour_from_a_run_to_its_batch(device: Device, bench: Bench) -> None:
    day = bench.world.now.date() + timedelta(days=400)
    run = plan_run(actor=bench.world.actor, version=bench.version, fats_g=Decimal(1000), pour_on=day, at=bench.world.now)
    first = device.post("pours/", {"run": run.pk}).json()
    taken = problem(device.post("pours/", {"run": run.pk}), 409, "pour_open")
    assert taken["data"]["pour"] == first["id"]
    pour = weighed_to(device, bench, "none")
    ended = device.post(f"pours/{pour}/finish/", {})
    assert ended.status_code == 200, ended.content
    batch = Batch.objects.within(bench.world.workshop).get()
    assert (ended.json()["state"], ended.json()["batch"]) == ("finished", batch.pk)
    uses = Movement.objects.within(bench.world.workshop).filter(kind="use")
    assert {one.source for one in uses} == {"api"}
    over = problem(device.post(f"pours/{pour}/finish/", {}), 409, "pour_over")
    assert "finished this pour" in over["detail"]
    assert uses.count() == 3


def test_lye_that_is_off_is_asked_about_and_answered_by_its_low_end(device: Device, bench: Bench) -> None:
    pour = weighed_to(device, bench, "naoh")
    lye = {"slot": "naoh", "amount_g": "150.5", "lot": bench.lots["naoh"].pk}
    asked = problem(say(device, pour, "weighed", **lye), 409, "off_target", "amount_g")
    assert (asked["data"]["answer"], asked["data"]["target_g"]) == ("add_fat", "143.500")
    shown = say(device, pour, "weighed", **lye, stands=True).json()
    assert shown["answer"]["answer"] == "add_fat"
    assert shown["answer"]["low"] < 0 < shown["answer"]["middle"]
    mend = next(one for one in shown["answer"]["mends"] if one["slot"] == "0")
    problem(say(device, pour, "trace"), 409, "not_safe")
    added = say(device, pour, "weighed", slot="0", amount_g=str(mend["add_g"]), lot=bench.lots["0"].pk, is_mend=True).json()
    assert added["answer"]["answer"] == "safe"
    assert added["answer"]["low"] == pytest.approx(mend["low"], abs=1e-6)


def test_the_same_step_twice_is_there_once(device: Device, bench: Bench) -> None:
    pour = weighed_to(device, bench, "0")
    sent = {"client_id": str(uuid.uuid4()), "kind": "weighed", "slot": "0", "amount_g": "700"}
    for _time in range(2):
        assert device.post(f"pours/{pour}/steps/", sent).status_code == 200
    assert PourStep.objects.within(bench.world.workshop).filter(slot="0").count() == 1


def test_a_doubt_stops_it(device: Device, bench: Bench) -> None:
    pour = weighed_to(device, bench, "dissolved")
    shown = say(device, pour, "doubt", words="Undissolved lye").json()
    assert shown["answer"]["answer"] == "stop"
    weighed = [one["id"] for one in shown["steps"] if one["slot"] == "naoh"]
    ended = device.post(f"pours/{pour}/stop/", {"why": "grains", "spoilt": weighed})
    assert (ended.status_code, ended.json()["state"], ended.json()["batch"]) == (200, "stopped", None)
    assert Movement.objects.within(bench.world.workshop).get(kind="write_off").amount == Decimal("-143.5")


def test_a_pour_names_its_run_or_its_version_with_its_size(device: Device, bench: Bench) -> None:
    problem(device.post("pours/", {}), 400, "missing", "version")
    problem(device.post("pours/", {"version": bench.version.pk}), 400, "missing", "fats_g")
    problem(device.post("pours/", {"version": 987654, "fats_g": "1000"}), 404, "not_here", "version")
    pour = begun(device, bench)
    problem(say(device, pour, "finished"), 400, "invalid_choice", "kind")
    problem(say(device, pour, "weighed", slot="0", amount_g="700", lot=987654), 404, "not_here", "lot")
