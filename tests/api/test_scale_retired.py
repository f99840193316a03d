"""A device that still sends the id of a scale out of use is told which one to send."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.curing.models import Reading, SampleBar
from curehouse.workshops.changes import change_scale
from curehouse.workshops.models import Scale
from curehouse.workshops.services import retire_scale
from tests.api.device import Device, problem, reading
from tests.world import World


@pytest.fixture
def bar(world: World) -> SampleBar:
    return world.bar(world.batch(cut_days_ago=20))


@pytest.fixture
def successor(world: World) -> Scale:
    """Return what took the kitchen scale's place ten days ago, with another step."""
    return change_scale(scale=world.scale, name="Kitchen scale", step_g=Decimal(1), at=world.days_ago(10))


def is_written(world: World, sent: dict[str, Any]) -> bool:
    return Reading.objects.within(world.workshop).filter(client_id=sent["client_id"]).exists()


def test_a_weighing_after_a_scale_went_out_of_use_names_the_scale_in_its_place(
    world: World, device: Device, bar: SampleBar, successor: Scale
) -> None:
    sent = reading(bar, "120.0", world.days_ago(1), scale=world.scale.pk)
    body = problem(device.post("readings/", sent), 409, "scale_retired", "scale")
    assert body["detail"] == (
        f"Kitchen scale (steps of 0.1 g) is out of use since 2026-02-28: Kitchen scale is id {successor.pk} now, send that."
    )
    assert body["data"] == {"scale": successor.pk}
    assert not is_written(world, sent)
    assert device.post("readings/", sent | {"scale": successor.pk}).status_code == 201


def test_a_scale_that_nothing_took_the_place_of_is_refused_with_what_to_do(
    world: World, device: Device, bar: SampleBar
) -> None:
    retire_scale(scale=world.scale, at=world.days_ago(10))
    sent = reading(bar, "120.0", world.days_ago(1), scale=world.scale.pk)
    body = problem(device.post("readings/", sent), 409, "scale_retired", "scale")
    assert body["detail"].endswith(": send the id of the scale it stood on, or leave the scale out.")
    assert "data" not in body
    assert device.post("readings/", sent | {"scale": None}).status_code == 201


def test_a_weighing_made_while_the_scale_was_in_use_comes_late_and_is_written(
    world: World, device: Device, bar: SampleBar, successor: Scale
) -> None:
    at_its_last = reading(bar, "120.0", world.days_ago(10), scale=world.scale.pk)
    assert device.post("readings/", at_its_last).status_code == 201
    one_second_late = reading(bar, "120.0", world.days_ago(10) + timedelta(seconds=1), scale=world.scale.pk)
    problem(device.post("readings/", one_second_late), 409, "scale_retired")


def test_many_weighings_are_held_to_the_same(world: World, device: Device, bar: SampleBar, successor: Scale) -> None:
    old = reading(bar, "121.0", world.days_ago(12), scale=world.scale.pk)
    late = reading(bar, "120.0", world.days_ago(1), scale=world.scale.pk)
    body = problem(device.post("readings/bulk/", {"readings": [old, late]}), 400, "rows")
    assert [(row["row"], row["field"], row["code"]) for row in body["errors"]] == [(1, "scale", "scale_retired")]
    assert f"is id {successor.pk} now" in body["errors"][0]["detail"]
    assert not is_written(world, old)
    late["scale"] = successor.pk
    assert device.post("readings/bulk/", {"readings": [old, late]}).json()["written"] == 2


def test_a_weighing_already_on_record_is_answered_again_and_corrected_on_its_own_scale(
    world: World, device: Device, bar: SampleBar
) -> None:
    sent = reading(bar, "120.0", world.days_ago(1), scale=world.scale.pk)
    key = device.post("readings/", sent).json()["id"]
    # Taken out of use as of a day before it was weighed: what is on record came in before anybody said so.
    change_scale(scale=world.scale, name="Kitchen scale", step_g=Decimal(1), at=world.days_ago(2))
    assert device.post("readings/", sent).status_code == 200
    better = reading(bar, "119.5", world.days_ago(1), scale=world.scale.pk)
    del better["bar"]
    later = better | {"moment": world.now.isoformat()}
    problem(device.post(f"readings/{key}/correct/", later), 409, "scale_retired", "scale")
    answer = device.post(f"readings/{key}/correct/", better)
    assert (answer.status_code, answer.json()["scale"]) == (201, world.scale.pk)
