"""The house is killed between two steps of a pour, which ends on a second device: each movement is there once."""

import json
import time
import urllib.error
import uuid
from http.client import HTTPException
from typing import Any

from tests.browser.at_work import inside
from tests.house import RunningHouse
from tests.visitor import Device

_OPEN = """
from tests.pouring import Bench
from curehouse.workshops.services import give_token
world = World(now=now)
bench = Bench(world)
secrets = [give_token(actor=world.actor, name=name, reach="works", at=now)[1] for name in ("Table tablet", "Phone")]
print(json.dumps({"version": bench.version.pk, "lots": {key: lot.pk for key, lot in bench.lots.items()}, "secrets": secrets}))
"""
_BOOKED = """
from curehouse.making.models import Batch, BatchUse, PourStep
from inventory.models import Lot, Movement
print(json.dumps({
    "batches": Batch.unscoped.count(),
    "uses": sorted([use.movement.lot_id, f"{-use.movement.amount}"] for use in BatchUse.unscoped.select_related("movement")),
    "movements": Movement.unscoped.filter(kind="use").count(),
    "steps": [step.slot or step.kind for step in PourStep.unscoped.order_by("pk")],
    "held": {lot.pk: f"{lot.on_hand}" for lot in Lot.unscoped.order_by("pk")},
}))
"""


def sent(device: Device, path: str, content: dict[str, Any]) -> dict[str, Any]:
    """Send until it is answered: the same again where no answer came."""
    for _try in range(480):
        try:
            answer = device.post(path, content)
        except (urllib.error.URLError, HTTPException, OSError):
            time.sleep(0.25)
            continue
        assert answer.status in (200, 201), answer.text
        return json.loads(answer.text)
    raise AssertionError("the house did not come back")


def step_of(shown: dict[str, Any], lots: dict[str, int]) -> dict[str, Any]:
    """Return the next step of a pour as it is meant, under an id of its own."""
    key, made = shown["next"], {"client_id": str(uuid.uuid4())}
    line = next((one for one in shown["lines"] if one["slot"] == key), None)
    if line is not None:
        return made | {"kind": "weighed", "slot": key, "amount_g": line["target_g"], "lot": lots.get(key)}
    return made | {"kind": key, **({"celsius": "38.0"} if key.endswith("_temp") else {})}


def test_a_pour_goes_on_after_a_kill_and_ends_on_a_second_device(tmp_path):
    with RunningHouse(tmp_path / "house") as house:
        opened = inside(house, _OPEN)
        first, second = (Device(house.base_url, secret) for secret in opened["secrets"])
        pour = sent(first, "/api/v1/pours/", {"version": opened["version"], "fats_g": "1000"})["id"]
        path = f"/api/v1/pours/{pour}/"
        shown = json.loads(first.get(path).text)
        for _number in range(5):
            shown = sent(first, f"{path}steps/", step_of(shown, opened["lots"]))
        # The lye is weighed and sent; whether its answer came nobody knows, for the house is killed.
        last = step_of(shown, opened["lots"])
        sent(first, f"{path}steps/", last)
        house.kill()
        house.start()
        shown = sent(first, f"{path}steps/", last)
        assert [one["client_id"] for one in shown["steps"]].count(last["client_id"]) == 1
        shown = json.loads(second.get(path).text)
        while shown["next"] is not None:
            shown = sent(second, f"{path}steps/", step_of(shown, opened["lots"]))
        before = inside(house, _BOOKED)
        assert (before["batches"], before["movements"]) == (0, 0)
        ended = sent(second, f"{path}finish/", {})
        house.kill()
        house.start()
        late = first.post(f"{path}finish/", {})
        found = inside(house, _BOOKED)
    assert ended["state"] == "finished"
    assert late.status == 409
    assert "Phone finished this pour" in late.text
    lots = opened["lots"]
    assert found["batches"] == 1
    assert found["uses"] == [[lots["0"], "700.000"], [lots["1"], "300.000"], [lots["naoh"], "143.500"]]
    assert found["movements"] == 3
    assert [found["held"][str(lots[key])] for key in ("0", "1", "naoh")] == ["4300.000", "4700.000", "4856.500"]
    assert found["steps"] == [
        "caution", "0", "1", "2", "3", "naoh", "dissolved", "lye_temp", "fats_temp", "trace", "stirred", "mould", "place",
        "finished",
    ]  # fmt: skip
