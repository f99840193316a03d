"""Bars that are to be turned, through the API."""

import pytest

from tests.api.device import Device, problem
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)


def test_what_is_due_is_listed_and_turned(world: World, device: Device) -> None:
    position = world.position(world.rack())
    batch = world.batch(cut_days_ago=8, position=position)
    turned_at = world.days_ago(0).isoformat()
    shown = device.get("turning/").json()
    assert (shown["every_days"], shown["for_days"]) == (7, 28)
    (one,) = shown["due"]
    assert (one["batch"], one["name"], one["last_at"]) == (batch.pk, str(batch), None)
    assert one["stands"] == [{"position": position.pk, "name": str(position), "bars": 24}]
    rows = device.post("turning/", {"batches": [batch.pk], "turned_at": turned_at})
    assert rows.status_code == 201
    assert [row["batch"] for row in rows.json()] == [batch.pk]
    assert device.get("turning/").json()["due"] == []
    again = device.post("turning/", {"batches": [batch.pk], "turned_at": turned_at})
    assert again.json() == rows.json()


def test_what_cannot_be_is_refused(world: World, stranger: World, device: Device) -> None:
    turned_at = world.now.isoformat()
    problem(device.post("turning/", {"batches": [], "turned_at": turned_at}), 400)
    problem(device.post("turning/", {"batches": [stranger.batch().pk], "turned_at": turned_at}), 404)
    batch = world.batch(cut_days_ago=2)
    early = {"batches": [batch.pk], "turned_at": world.days_ago(5).isoformat()}
    problem(device.post("turning/", early), 400, field="turned_at")
    assert device.get("workshop/").json()["turn_every_days"] == 7
