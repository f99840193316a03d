"""What is seen at a cut, through the API."""

from decimal import Decimal

import pytest

from curehouse.making.models import Batch, CutNote
from tests.api.device import Device, problem
from tests.api.test_batches import batch_body
from tests.world import World

pytestmark = pytest.mark.django_db


def test_it_comes_with_the_cut_and_is_said_anew_later(world: World, device: Device) -> None:
    poured = world.batch(cut_days_ago=None)
    body = {"cut_at": world.now.isoformat(), "bars": 20, "gel": "all", "trim_g": "120.5", "cut_note": "soft inside"}
    assert device.post(f"batches/{poured.pk}/cut/", body).status_code == 200
    later = device.post(f"batches/{poured.pk}/cut-notes/", {"gel": "part", "trim_g": "120.5"})
    assert later.status_code == 201
    rows = device.get(f"batches/{poured.pk}/cut-notes/").json()["results"]
    assert [(row["gel"], row["trim_g"], row["note"]) for row in rows] == [
        ("part", "120.500", ""),
        ("all", "120.500", "soft inside"),
    ]


def test_a_batch_that_comes_in_cut_may_say_it_and_one_that_is_not_cut_may_not(world: World, device: Device) -> None:
    made = device.post("batches/", batch_body(world, gel="none", trim_g=0)).json()["id"]
    assert CutNote.objects.within(world.workshop).get(batch=made).trim_g == Decimal(0)
    body = batch_body(world, gel="none")
    body.pop("cut_at")
    before = Batch.objects.within(world.workshop).count()
    problem(device.post("batches/", body | {"bars": 0}), 400, field="cut_at")
    assert Batch.objects.within(world.workshop).count() == before


def test_what_cannot_be_is_refused(world: World, device: Device) -> None:
    batch, poured = world.batch(), world.batch(cut_days_ago=None)
    problem(device.post(f"batches/{batch.pk}/cut-notes/", {"gel": "", "trim_g": "-1"}), 400, field="trim_g")
    problem(device.post(f"batches/{batch.pk}/cut-notes/", {}), 400, field="gel")
    problem(device.post(f"batches/{batch.pk}/cut-notes/", {"gel": ""}), 400, "nothing", field="gel")
    problem(device.post(f"batches/{poured.pk}/cut-notes/", {"gel": "all"}), 409)
    assert not CutNote.objects.within(world.workshop).exists()
