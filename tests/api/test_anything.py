"""Whatever a device sends in place of a value is taken or refused in words, never a mistake of ours."""

import copy
import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curehouse.curing.models import Position
from curehouse.curing.services.places import place
from curehouse.making.models import Batch
from curehouse.workshops.services import change_preferences
from tests.api.device import V1, Device, problem, reading
from tests.api.test_batches import batch_body, check_body, take_body
from tests.factories import SupplierFactory
from tests.world import World

NUMBERS = st.one_of(st.integers(), st.integers(-(2**70), 2**70), st.floats(), st.decimals().map(str))
MOMENTS = st.one_of(st.datetimes().map(str), st.datetimes(timezones=st.timezones()).map(lambda one: one.isoformat()))
SCALARS = st.one_of(st.none(), st.booleans(), NUMBERS, st.text(max_size=40), MOMENTS, st.uuids().map(str))
VALUES = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3), max_leaves=5
)


@pytest.fixture
def requests(world: World) -> dict[str, dict[str, Any]]:
    """Return a request that is taken, for each address that takes a body."""
    change_preferences(workshop=world.workshop, changes={"check_limit": "no darker than square 9"})
    rack, batch, poured = world.rack(), world.batch(), world.batch(cut_days_ago=None)
    here, there = (place_some(world, batch, world.position(rack, *where)) for where in ((1, 1), (2, 2)))
    bar, scale = world.bar(batch), world.scale.pk
    weighed = world.weigh(bar, "120.0", moment=world.days_ago(29))
    moved_at = world.days_ago(1).isoformat()
    placing = {"batch": batch.pk, "position": here, "moved_at": moved_at}
    full = {"scale": scale, "firmness": "gives", "dent_mm": "1.5", "dent_tool": "needle"}
    sent = reading(bar, "118.0", world.days_ago(28), **full)
    correction = {name: value for name, value in sent.items() if name != "bar"}
    return {
        "scales/": {"name": "Pocket scale", "step_g": "0.1"},
        f"scales/{scale}/tares/": {"name": "Tray", "weight_g": "84.0"},
        f"scales/{scale}/checks/": {"test_weight_g": 100, "shown_g": "100.1"},
        "batches/": batch_body(world, note="", sample_bars=3, position=here, when_full="raise", water_share_stated="0.2"),
        f"batches/{poured.pk}/cut/": {
            "cut_at": world.now.isoformat(),
            "bars": 20,
            "sample_bars": 2,
            "gel": "part",
            "trim_g": "80.5",
            "cut_note": "soft",
        },
        f"batches/{batch.pk}/cut-notes/": {"gel": "all", "trim_g": "12.5", "note": "soft"},
        f"batches/{batch.pk}/checks/": check_body(world, passed=False, note=""),
        f"batches/{batch.pk}/take-outs/": take_body(world, forced_reason="for my own bath"),
        "sample-bars/": {"batch": batch.pk, "sample_bars": 1},
        f"sample-bars/{bar.pk}/end/": {"why": "sold early"},
        "readings/": sent,
        "readings/bulk/": {"readings": [sent, reading(bar, "117.0", world.days_ago(21), scale=scale)]},
        f"readings/{weighed.pk}/correct/": correction,
        f"readings/{weighed.pk}/strike/": {"reason": "wrong batch"},
        "racks/": {"name": "South wall", "levels": 2, "places": 2, "capacity_bars": 20},
        "placements/": placing | {"bars": 5, "when_full": "elsewhere"},
        "placements/move/": placing | {"bars": 5, "origin": there, "when_full": "raise"},
        "placements/turn/": placing,
        "turning/": {"batches": [batch.pk], "turned_at": moved_at},
        **storeroom_requests(world, batch.pk),
    }


def place_some(world: World, batch: Batch, position: Position) -> int:
    place(actor=world.actor, batch=batch, position=position, bars=7, moved_at=world.days_ago(2), at=world.now)
    return position.pk


def storeroom_requests(world: World, batch: int) -> dict[str, dict[str, Any]]:
    lot, moment = world.lot(), world.days_ago(1).isoformat()
    left = {"amount": "1.5", "moment": moment, "reason": "spilt"}
    papers = {"supplier_lot": "BM-7", "best_before": "2027-03-01", "unit_cost": "0.0085"}
    received = papers | {"material": lot.material_id, "amount": "20.5", "received_on": "2026-03-01", "standing": "released"}
    return {
        "materials/": {"name": "Tins", "kind": "packaging", "measure": "pieces"},
        "suppliers/": {"name": "Mill", "contact": "orders@mill.example", "note": "closed in August"},
        "lots/": received | {"supplier": SupplierFactory(workshop=world.workshop).pk, "why": "smells fresh"},
        f"lots/{lot.pk}/rulings/": {"standing": "rejected", "why": "rancid"},
        f"lots/{lot.pk}/corrections/": papers | {"why": "misread"},
        f"lots/{lot.pk}/values/": {"name": "Purity", "value": "98.5", "unit": "%"},
        f"lots/{lot.pk}/receipts/": left,
        f"lots/{lot.pk}/write-offs/": left,
        f"lots/{lot.pk}/returns/": left,
        f"lots/{lot.pk}/counts/": {"counted": "990", "moment": moment, "reason": "weighed"},
        f"movements/{lot.movements.get().pk}/reversal/": {"reason": "never came"},
        f"batches/{batch}/uses/": {"used_at": moment, "lines": [{"lot": lot.pk, "amount": "3", "reason": "poured"}]},
    }


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Yield the path of every value in a request."""
    if path:
        yield path
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, one in inner:
        yield from places(one, (*path, key))


def changed(body: Any, path: tuple[Any, ...], value: Any) -> Any:
    """Return the request with another value at *path*."""
    body = copy.deepcopy(body)
    place = body
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return body


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_is_sent_in_place_of_a_value_is_answered(
    device: Device, requests: dict[str, dict[str, Any]], data: st.DataObject
) -> None:
    path = data.draw(st.sampled_from(sorted(requests)))
    where = data.draw(st.sampled_from(list(places(requests[path]))))
    body = json.dumps(changed(requests[path], where, data.draw(VALUES)))
    with transaction.atomic():
        answer = device.client.post(V1 + path, body, content_type="application/json")
        transaction.set_rollback(True)
    if answer.status_code not in (200, 201):
        assert 400 <= answer.status_code < 500
        problem(answer, answer.status_code)


QUERIES = ["cursor", "page_size", "ordering", "bar", "batch", "scale", "standing", "moment_after", "client_id"]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(QUERIES), value=st.one_of(st.text(max_size=60), NUMBERS.map(str), MOMENTS))
def test_whatever_a_list_is_asked_is_answered(device: Device, name: str, value: str) -> None:
    answer = device.client.get(V1 + "readings/", {name: value.encode("utf-8", "replace")})
    if answer.status_code != 200:
        problem(answer, 400)


def test_the_requests_that_are_changed_are_taken_as_they_are(device: Device, requests: dict[str, dict[str, Any]]) -> None:
    for path, body in requests.items():
        with transaction.atomic():
            answer = device.post(path, body)
            transaction.set_rollback(True)
        assert answer.status_code in (200, 201), (path, answer.content)
