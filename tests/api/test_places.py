"""Racks, positions and placements through the API."""

from typing import Any

from curehouse.curing.models import Placement, Rack
from tests.api.device import Device, problem
from tests.world import World


def test_a_rack_is_put_up_with_its_positions(device: Device) -> None:
    sent = {"name": "North wall", "levels": 2, "places": 3, "capacity_bars": 24}
    answer = device.post("racks/", sent)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert [(one["level"], one["place"]) for one in made["positions"]] == [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3)]
    assert device.rows("racks/") == [made]
    assert device.get(f"racks/{made['id']}/").json() == made
    problem(device.post("racks/", sent), 400, "name_taken", "name")


def test_a_rack_that_cannot_be_is_refused(world: World, device: Device) -> None:
    good = {"name": "North wall", "levels": 2, "places": 3, "capacity_bars": 24}
    for changes, code, field in (
        ({"name": ""}, "blank", "name"),
        ({"name": 5.5}, "invalid", "name"),
        ({"levels": 0}, "levels", "levels"),
        ({"places": 10**6}, "places", "places"),
        ({"capacity_bars": -1}, "capacity_bars", "capacity_bars"),
        ({"capacity_bars": "many"}, "invalid", "capacity_bars"),
        ({"doors": 2}, "unknown_field", "doors"),
    ):
        problem(device.post("racks/", good | changes), 400, code, field)
    assert not Rack.objects.within(world.workshop).exists()


def test_a_rack_gets_another_name(world: World, device: Device) -> None:
    rack = world.rack()
    assert device.patch(f"racks/{rack.pk}/", {"name": "South wall"}).json()["name"] == "South wall"
    problem(device.patch(f"racks/{rack.pk}/", {"name": " "}), 400, "blank", "name")


def test_a_capacity_is_changed_and_never_below_what_stands_there(world: World, device: Device) -> None:
    position = world.position(world.rack())
    world.batch(position=position)
    assert device.patch(f"positions/{position.pk}/", {"capacity_bars": 30}).json()["bars_free"] == 6
    problem(device.patch(f"positions/{position.pk}/", {"capacity_bars": 23}), 409, "position_full", "capacity_bars")
    problem(device.patch(f"positions/{position.pk}/", {"capacity_bars": 0}), 400, "capacity_bars", "capacity_bars")


def test_positions_are_found_by_rack_level_and_batch(world: World, device: Device) -> None:
    rack, other = world.rack(), world.rack("South wall")
    batch = world.batch(position=world.position(rack, 2, 1))
    assert len(device.rows("positions/")) == 8
    assert len(device.rows("positions/", rack=other.pk)) == 4
    assert len(device.rows("positions/", rack=rack.pk, level=2)) == 2
    found = device.rows("positions/", batch=batch.pk)
    assert [(one["id"], one["bars_held"]) for one in found] == [(world.position(rack, 2, 1).pk, 24)]


def place_body(world: World, batch: int, position: int, **changes: Any) -> dict[str, Any]:
    return {"batch": batch, "position": position, "bars": 24, "moved_at": world.days_ago(2).isoformat()} | changes


def test_bars_are_placed_moved_and_turned_and_the_history_is_kept(world: World, device: Device) -> None:
    rack, batch = world.rack(), world.batch()
    here, there = world.position(rack).pk, world.position(rack, 2, 2).pk
    placed = device.post("placements/", place_body(world, batch.pk, here))
    assert placed.status_code == 201, placed.content
    moved = device.post("placements/move/", place_body(world, batch.pk, there, origin=here, bars=10))
    assert moved.status_code == 201, moved.content
    turned = device.post("placements/turn/", {"batch": batch.pk, "position": there, "moved_at": world.days_ago(1).isoformat()})
    assert turned.status_code == 201, turned.content
    history = device.rows("placements/", batch=batch.pk, ordering="id")
    assert [(one["act"], one["bars"], one["origin"], one["target"]) for one in history] == [
        ("placed", 24, None, here),
        ("moved", 10, here, there),
        ("turned", 10, there, there),
    ]
    assert len(device.rows("placements/", position=there)) == 2
    assert len(device.rows("placements/", act="turned")) == 1


def test_bars_that_do_not_fit_are_refused_with_the_ways_out(world: World, device: Device) -> None:
    rack, batch = world.rack(capacity=10), world.batch()
    here = world.position(rack).pk
    answer = problem(device.post("placements/", place_body(world, batch.pk, here)), 409, "position_full", "position")
    assert answer["data"]["raise_to"] == 24
    assert answer["data"]["elsewhere"]
    raised = device.post("placements/", place_body(world, batch.pk, here, when_full="raise", bars=12)).json()
    assert [one["bars"] for one in raised] == [12]
    spread = device.post("placements/", place_body(world, batch.pk, here, when_full="elsewhere", bars=12)).json()
    assert sum(one["bars"] for one in spread) == 12
    assert len(spread) == 2


def test_a_placement_that_cannot_be_right_is_refused(world: World, stranger: World, device: Device) -> None:
    batch, here = world.batch(), world.position(world.rack()).pk
    there = stranger.position(stranger.rack()).pk
    theirs = stranger.batch().pk
    for changes, status, code, field in (
        ({"bars": 25}, 400, "bars", "bars"),
        ({"bars": 0}, 400, "bars", "bars"),
        ({"bars": None}, 400, "null", "bars"),
        ({"moved_at": "2150-01-01T00:00:00Z"}, 400, "future", "moved_at"),
        ({"moved_at": "2026-03-01T10:00:00"}, 400, "naive", "moved_at"),
        ({"when_full": "squeeze"}, 400, "invalid_choice", "when_full"),
        ({"position": there}, 404, "not_here", "position"),
        ({"position": "left"}, 400, "invalid", "position"),
        ({"batch": theirs}, 404, "not_here", "batch"),
    ):
        problem(device.post("placements/", place_body(world, batch.pk, here) | changes), status, code, field)
    problem(device.post("placements/move/", place_body(world, batch.pk, here, origin=there)), 404, "not_here", "origin")
    problem(device.post("placements/move/", place_body(world, batch.pk, here, origin=here)), 400, "bars", "bars")
    assert not Placement.objects.within(world.workshop).exists()
