"""Lists: in parts that stay in step, in the order asked for, at a constant number of queries."""

from datetime import timedelta
from decimal import Decimal
from urllib.parse import parse_qs, urlsplit

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.flows.assess import assess_batch
from curehouse.flows.check import check
from curehouse.flows.take_out import take_out
from curehouse.making.services import TakeOutEntry
from curehouse.workshops.services import add_scale, change_preferences
from tests.api.device import Device, problem
from tests.world import World

LISTS = ["batches", "sample-bars", "readings", "racks", "positions", "placements", "assessments", "notices", "scales"]


def walk(device: Device, path: str, **query: object) -> list[int]:
    """Return the ids of a whole list, part by part."""
    answer = device.get(path, **query).json()
    keys = [row["id"] for row in answer["results"]]
    while answer["next"]:
        parts = urlsplit(answer["next"])
        answer = device.client.get(parts.path, parse_qs(parts.query)).json()
        keys += [row["id"] for row in answer["results"]]
    return keys


@pytest.fixture
def weighed(world: World) -> World:
    """Return a house with two dozen weighings, many at the same moment or of the same weight."""
    batch = world.batch()
    weights = ["120.0", "120.0", "118.0", "118.0", "117.5", "117.5", "117.5", "117.0"]
    world.weigh_series(batch, {3 * place: weight_g for place, weight_g in enumerate(weights)})
    return world


@pytest.mark.parametrize("ordering", ["moment", "-moment", "weight_g", "-weight_g", "id", "-id", "received_at"])
@pytest.mark.parametrize("size", [1, 7, 24])
def test_a_list_walked_in_parts_is_the_list(weighed: World, device: Device, ordering: str, size: int) -> None:
    keys = walk(device, "readings/", ordering=ordering, page_size=size)
    assert len(keys) == 24
    assert keys == walk(device, "readings/", ordering=ordering)
    rows = device.rows("readings/", ordering=ordering)
    values = [(row[ordering.lstrip("-")], row["id"]) for row in rows]
    assert values == sorted(values, reverse=ordering.startswith("-"))


def test_a_list_stays_in_step_while_rows_are_added(weighed: World, device: Device) -> None:
    before = walk(device, "readings/", ordering="-moment")
    first = device.get("readings/", ordering="-moment", page_size=10).json()
    bar = weighed.bar(weighed.batch())
    weighed.weigh(bar, "130.0", moment=weighed.now)
    parts = urlsplit(first["next"])
    rest = device.client.get(parts.path, parse_qs(parts.query) | {"page_size": "50"}).json()["results"]
    assert [row["id"] for row in first["results"] + rest] == before


def test_a_list_keeps_its_filters_from_part_to_part(weighed: World, device: Device) -> None:
    bar = weighed.bar(weighed.batch())
    other = device.rows("readings/")[0]["bar"]
    weighed.weigh(bar, "130.0", moment=weighed.now)
    assert len(walk(device, "readings/", bar=other, page_size=3)) == 8


@pytest.mark.parametrize("name", LISTS)
@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"ordering": "colour"}, "ordering"),
        ({"ordering": "--id"}, "ordering"),
        ({"ordering": "id,moment"}, "ordering"),
        ({"page_size": "0"}, "page_size"),
        ({"page_size": "201"}, "page_size"),
        ({"page_size": "ten"}, "page_size"),
        ({"page_size": "\u0661"}, "page_size"),
        ({"cursor": "nonsense"}, "cursor"),
        ({"cursor": ""}, "cursor"),
        ({"cursor": "bnVsbA"}, "cursor"),
        ({"cursor": "WyJpZCIsIDFlOTk5LCAxXQ"}, "cursor"),  # ["id", 1e999, 1]
        ({"cursor": "WyJpZCIsICIxZTk5OTk5OTk5OSIsIDFd"}, "cursor"),  # ["id", "1e999999999", 1]
        ({"cursor": "WyJpZCIsICJhXHUwMDAwIiwgMV0"}, "cursor"),
        ({"cursor": "\u00e9"}, "cursor"),
        ({"limit": "3"}, "limit"),
        ({"format": "api"}, "format"),
    ],
)
def test_a_parameter_that_cannot_be_heard_is_refused(device: Device, name: str, query: dict[str, str], field: str) -> None:
    problem(device.get(f"{name}/", **query), 400, field=field)


def test_a_cursor_of_another_order_is_refused(weighed: World, device: Device) -> None:
    following = device.get("readings/", ordering="moment", page_size=2).json()["next"]
    cursor = parse_qs(urlsplit(following).query)["cursor"][0]
    problem(device.get("readings/", ordering="-moment", cursor=cursor), 400, field="cursor")


@pytest.mark.parametrize(
    ("path", "query", "field"),
    [
        ("readings/", {"bar": "A"}, "bar"),
        ("readings/", {"bar": "0"}, "bar"),
        ("readings/", {"bar": str(2**63)}, "bar"),
        ("readings/", {"standing": "lying"}, "standing"),
        ("readings/", {"moment_after": "2026-03-01T10:00:00"}, "moment_after"),
        ("readings/", {"moment_after": "soon"}, "moment_after"),
        ("readings/", {"moment_before": "0001-01-01T00:00:00Z"}, "moment_before"),
        ("readings/", {"client_id": "seven"}, "client_id"),
        ("batches/", {"state": "asleep"}, "state"),
        ("batches/", {"due_by": "soon"}, "due_by"),
        ("batches/", {"formula_name": "a\x00b"}, "formula_name"),
        ("assessments/", {"latest": "perhaps"}, "latest"),
        ("scales/", {"in_use": "1"}, "in_use"),
        ("notices/", {"kind": "gossip"}, "kind"),
    ],
)
def test_a_filter_that_cannot_be_right_is_refused(device: Device, path: str, query: dict[str, str], field: str) -> None:
    problem(device.get(path, **query), 400, field=field)


@pytest.mark.parametrize("name", LISTS)
def test_a_list_shows_nothing_of_the_house_next_door(
    weighed: World, stranger: World, strange_device: Device, device: Device, name: str
) -> None:
    stranger.batch(position=stranger.position(stranger.rack()))
    ours, theirs = walk(device, f"{name}/"), walk(strange_device, f"{name}/")
    assert not set(ours) & set(theirs)


def fill(world: World, rows: int) -> None:
    """Make so many of everything."""
    change_preferences(workshop=world.workshop, changes={"check_method": "pH strip", "check_limit": "at most 10"})
    for number in range(rows):
        rack = world.rack(f"Rack {number}-{rows}")
        add_scale(workshop=world.workshop, name=f"Scale {number}-{rows}", step_g=Decimal("0.1"))
        batch = world.batch(cut_days_ago=36, position=world.position(rack), formula_name=f"Soap {number}-{rows}")
        world.weigh_series(batch, {0: "120.0", 28: "108.2", 35: "108.0"}, letters="A")
        assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)


def queries(device: Device, path: str) -> int:
    device.get(path)  # the token's last use is noted once in ten minutes
    with CaptureQueriesContext(connection) as caught:
        assert device.get(path, page_size=200).status_code == 200
    return len(caught)


def test_queries_do_not_grow_with_the_rows(world: World, device: Device) -> None:
    fill(world, 2)
    few = {name: queries(device, f"{name}/") for name in LISTS}
    lengths = {name: len(device.rows(f"{name}/", page_size=200)) for name in LISTS}
    fill(world, 18)
    many = {name: queries(device, f"{name}/") for name in LISTS}
    assert all(len(device.rows(f"{name}/", page_size=200)) > lengths[name] for name in LISTS)
    assert many == few
    # Token, its last use, the rows, and at most two more for what is shown beside them.
    assert max(few.values()) <= 5, few


def test_queries_of_a_batchs_own_lists_do_not_grow(world: World, device: Device) -> None:
    fill(world, 1)
    batch = world.batch(cut_days_ago=20)
    paths = [f"batches/{batch.pk}/{name}/" for name in ("checks", "take-outs", "assessments")]

    def more(times: int) -> dict[str, int]:
        for number in range(times):
            moment = world.now - timedelta(days=2, minutes=times * 100 + number)
            check(
                actor=world.actor,
                batch=batch,
                method="pH strip",
                value="9",
                passed=True,
                note="",
                checked_at=moment,
                at=world.now,
            )
            entry = TakeOutEntry(bars=1, purpose="gift", taken_at=moment, forced_reason="for my own bath")
            take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
            world.weigh(world.bar(batch), "119.0", moment=moment)
            assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
        return {path: queries(device, path) for path in paths}

    assert more(1) == more(8)
