"""Store counts through the API: begun, shared, ended; estimates marked wherever their figure is told."""

from typing import Any

import pytest

from inventory.models import Lot
from tests.api.device import Device, problem
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def lots(world: World) -> list[Lot]:
    """Return two lots of five kilograms."""
    return [world.lot("5000"), world.lot("5000")]


def counted(device: Device, lot: Lot, grams: str | None, **more: Any):  # noqa: ANN201  (an answer)
    sent = {"counted": grams, "moment": device.world.now.isoformat(), "on_walk": True, **more}
    return device.post(f"lots/{lot.pk}/counts/", sent)


def test_a_store_count_is_begun_gone_on_with_and_ended(world: World, device: Device, lots: list[Lot]) -> None:
    row = counted(device, lots[0], "4900", reason="dripped").json()
    (walk,) = device.rows("store-counts/", ended="false")
    figures = {name: walk[name] for name in ("lots_counted", "lots_differing", "lots_by_eye", "lots_left", "ended_at")}
    assert figures == {"lots_counted": 1, "lots_differing": 1, "lots_by_eye": 0, "lots_left": None, "ended_at": None}
    assert row["store_count"] == walk["id"]
    assert [one["id"] for one in device.rows(f"store-counts/{walk['id']}/counts/")] == [row["id"]]
    ended = device.post(f"store-counts/{walk['id']}/end/").json()
    assert (ended["lots_left"], ended["signed_by"]) == (1, "Bench tablet")
    problem(device.post(f"store-counts/{walk['id']}/end/"), 409, "ended")
    assert device.rows("store-counts/", ended="false") == []
    assert device.get(f"store-counts/{walk['id']}/").json() == ended
    # A count beside it begins none.
    assert counted(device, lots[0], "4900", on_walk=False).json()["store_count"] is None


def test_another_figure_than_somebodys_since_is_asked_about(world: World, device: Device, lots: list[Lot]) -> None:
    first = counted(device, lots[0], "4900", reason="dripped", seen=0).json()
    said = problem(counted(device, lots[0], "4700", reason="weighed", seen=0), 409, "counted_meanwhile", "counted")
    assert said["data"]["count"] == first["id"]
    assert counted(device, lots[0], "4700", reason="weighed", seen=first["id"]).status_code == 201


def test_estimates_are_marked_in_count_movement_lot_and_stock(world: World, device: Device, lots: list[Lot]) -> None:
    problem(counted(device, lots[0], None), 400, "missing", "counted")
    fits = counted(device, lots[0], None, is_estimate=True).json()
    assert (fits["counted"], fits["is_estimate"], fits["movement"]) == ("5000.000", True, None)
    assert device.get(f"lots/{lots[0].pk}/").json()["is_estimated"] is False
    row = counted(device, lots[0], "3000", is_estimate=True, reason="low").json()
    assert (row["is_estimate"], device.get(f"movements/{row['movement']}/").json()["is_estimate"]) == (True, True)
    assert device.get(f"lots/{lots[0].pk}/").json()["is_estimated"] is True
    assert [one["id"] for one in device.rows("lots/", estimated="true")] == [lots[0].pk]
    (stock,) = device.rows("stock/")
    assert (stock["on_hand"], stock["on_hand_is_estimated"], stock["usable_is_estimated"]) == ("8000.000", True, True)


def test_a_lot_that_was_weighed_after_all_is_not_judged_by_eye(world: World, device: Device, lots: list[Lot]) -> None:
    counted(device, lots[0], "3000", is_estimate=True, reason="low")
    assert device.rows("store-counts/")[0]["lots_by_eye"] == 1
    counted(device, lots[0], "3100", reason="weighed after all")
    (walk,) = device.rows("store-counts/")
    assert (walk["lots_counted"], walk["lots_differing"], walk["lots_by_eye"]) == (1, 1, 0)


def test_a_strangers_store_count_is_not_here(device: Device, strange_device: Device, lots: list[Lot]) -> None:
    walk = counted(device, lots[0], "5000").json()["store_count"]
    for path in (f"store-counts/{walk}/", f"store-counts/{walk}/counts/"):
        assert strange_device.get(path).status_code == 404
    assert strange_device.post(f"store-counts/{walk}/end/").status_code == 404
