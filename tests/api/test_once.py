"""A POST under a key is done once: answered alike to the byte, refused under another's key."""

import json
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client

from curehouse.common import locking
from curehouse.flows.morning import begin_day
from curehouse.making.models import Batch
from curehouse.workshops.models import Scale, Submission
from tests.api.device import V1, Device, problem
from tests.api.test_batches import batch_body
from tests.api.test_problems import ADDRESSES, PATHS, filled, methods
from tests.world import PASSWORD, World

KEY = '"8e03978e-40d5-43e8-bc93-6894a57f9324"'
SCALE = {"name": "Pocket scale", "step_g": "0.1"}


def send(device: Device, path: str, body: Any, key: str | None = KEY) -> HttpResponse:
    headers = {} if key is None else {"Idempotency-Key": key}
    return device.client.post(V1 + path, json.dumps(body), content_type="application/json", headers=headers)


def scales(world: World) -> int:
    return Scale.objects.within(world.workshop).filter(name__startswith="Pocket").count()


def test_the_same_request_under_its_key_is_done_once_and_answered_alike(world: World, device: Device) -> None:
    body = batch_body(world)
    first, again = send(device, "batches/", body), send(device, "batches/", body)
    assert first.status_code == again.status_code == 201
    assert first.content == again.content
    assert first.headers.items() == again.headers.items()
    assert first.json()["number"] == 1
    assert Batch.objects.within(world.workshop).count() == 1


def test_the_answer_under_a_key_is_the_answer_without_one(world: World, device: Device) -> None:
    plain = send(device, "scales/", SCALE, key=None)
    keyed = send(device, "scales/", SCALE | {"name": "Pocket other"})
    assert plain.headers.items() == keyed.headers.items()
    assert plain.json() | {"id": 0, "name": ""} == keyed.json() | {"id": 0, "name": ""}


def test_without_a_key_it_is_done_as_often_as_it_is_sent(world: World, device: Device) -> None:
    body = batch_body(world)
    assert [send(device, "batches/", body, key=None).json()["number"] for _ in range(2)] == [1, 2]


def test_another_body_or_another_address_under_the_key_is_refused(world: World, device: Device) -> None:
    assert send(device, "scales/", SCALE).status_code == 201
    problem(send(device, "scales/", SCALE | {"name": "Pocket scale 2"}), 422, "key_used")
    problem(send(device, "racks/", SCALE), 422, "key_used")
    problem(send(device, "scales/?a=1", SCALE), 422, "key_used")
    assert scales(world) == 1


def test_what_was_refused_is_mended_and_sent_under_its_key(world: World, device: Device) -> None:
    problem(send(device, "scales/", {"name": "Pocket scale"}), 400, "required", "step_g")
    problem(send(device, "scales/", SCALE | {"step_g": "900"}), 400, "step")
    assert not Submission.objects.within(world.workshop).exists()
    assert send(device, "scales/", SCALE).status_code == 201


def test_a_fault_of_ours_leaves_neither_the_work_nor_the_key(
    world: World, device: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    device.client.raise_request_exception = False
    with monkeypatch.context() as patch:
        patch.setattr("api.once.finish_submission", lambda **_what: 1 / 0)
        problem(send(device, "scales/", SCALE), 500, "failed")
    assert scales(world) == 0
    assert not locking._under_way
    assert send(device, "scales/", SCALE).status_code == 201
    assert scales(world) == 1


@pytest.mark.parametrize(
    "key", ["", "bare-token", '"', '""', '"a', 'a"b"', '"a"b"', '"\\a"', '"ü"', f'"{"x" * 127}"', '"a";q=1']
)
def test_a_key_that_is_no_string_is_refused_in_words(device: Device, key: str) -> None:
    body = problem(send(device, "scales/", SCALE, key=key), 400, "key")
    assert "double quotes" in body["detail"]


@pytest.mark.parametrize("key", ['"a"', '"a b ~!"', '"a\\"b\\\\"', f'"{"x" * 126}"'])
def test_a_key_is_any_quoted_text(device: Device, key: str) -> None:
    assert send(device, "scales/", SCALE, key=key).status_code == 201


def test_each_device_and_person_has_keys_of_their_own(world: World, device: Device, strange_device: Device) -> None:
    person = Client(headers={"Idempotency-Key": KEY})
    person.login(username=world.email, password=PASSWORD)
    names = iter(f"Pocket scale {number}" for number in range(9))
    for one in (device, Device(world), strange_device):
        assert send(one, "scales/", SCALE | {"name": next(names)}).status_code == 201
    body = json.dumps(SCALE | {"name": next(names)})
    assert person.post(V1 + "scales/", body, content_type="application/json").status_code == 201
    assert (scales(world), scales(strange_device.world)) == (3, 1)


def test_a_body_too_large_is_answered_in_words_under_a_key_too(device: Device, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    problem(send(device, "scales/", {"name": "x" * 2000}), 413, "too_large")


POSTS = [path for path in PATHS if "post" in methods(path)]


@pytest.mark.parametrize("path", POSTS)
def test_every_post_takes_a_key(device: Device, path: str) -> None:
    assert ADDRESSES[path].callback.cls.post
    headers = {"Idempotency-Key": "bare"}
    problem(device.client.post(filled(path), "{}", content_type="application/json", headers=headers), 400, "key")


def test_keys_are_forgotten_after_a_month_by_the_morning(world: World, device: Device) -> None:
    assert send(device, "scales/", SCALE).status_code == 201
    kept = Submission.objects.within(world.workshop)
    # Before noon a morning may not have come yet, whenever the test runs.
    noon = kept.get().at.replace(hour=12)
    for days, left in ((29, 1), (31, 0)):
        begin_day(workshop_id=world.workshop.pk, at=noon + timedelta(days=days))
        assert kept.count() == left


def test_a_member_who_is_signed_in_may_send_a_key_too(world: World) -> None:
    """The check of a session's form reads the body away; it must be there still."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(world.owner)
    client.get("/")
    token = client.get("/workshop/scales/").context["csrf_token"]
    headers = {"Idempotency-Key": KEY, "X-CSRFToken": str(token)}
    answers = [
        client.post(V1 + "scales/", json.dumps(SCALE), content_type="application/json", headers=headers) for _ in range(2)
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].content == answers[1].content
    assert scales(world) == 1
