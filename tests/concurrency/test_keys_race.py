"""Two send the same request under one key at one moment, as a phone does over a bad network."""

import json
from functools import partial
from threading import Barrier, Event

import pytest
from django.db import transaction
from django.http import HttpResponse

from curehouse.workshops.models import Scale, Submission
from curehouse.workshops.services import add_scale
from tests.api.device import V1, Device
from tests.arena import STUCK_SECONDS, Arena, drop_constraint
from tests.world import World

SCALE = json.dumps({"name": "Pocket scale", "step_g": "0.1"})


def a_device() -> Device:
    device = Device(World())
    device.get("scales/")  # the token's last use is noted once in ten minutes
    return device


def send(device: Device, key: str = '"one"') -> HttpResponse:
    headers = {"Idempotency-Key": key}
    return device.client.post(V1 + "scales/", SCALE, content_type="application/json", headers=headers)


def pocket_scales(device: Device) -> int:
    return Scale.objects.within(device.world.workshop).filter(name="Pocket scale").count()


def test_of_many_at_once_one_is_done_and_the_rest_are_answered_alike_or_told_to_come_again(arena: Arena) -> None:
    device = arena.do(a_device)
    answers = arena.race(*[partial(send, device)] * 4)
    assert {answer.status_code for answer in answers} <= {201, 409}, answers
    done = {answer.content for answer in answers if answer.status_code == 201}
    assert done == {arena.do(partial(send, device)).content}
    assert arena.do(partial(pocket_scales, device)) == 1


def race_into_the_work(arena: Arena, device: Device, patch: pytest.MonkeyPatch) -> list[HttpResponse]:
    """Let the second request come while the first is at its work; return their answers."""
    begun, told = Event(), Event()

    def slowly(**entry: object) -> Scale:
        begun.set()
        told.wait(1.5)
        return add_scale(**entry)

    def second() -> HttpResponse:
        assert begun.wait(STUCK_SECONDS)
        try:
            return send(device)
        finally:
            told.set()

    patch.setattr("api.scales.add_scale", slowly)
    return arena.race(partial(send, device), second)


def test_the_second_is_told_at_once_that_the_first_is_under_way(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    device = arena.do(a_device)
    first, second = race_into_the_work(arena, device, monkeypatch)
    assert (first.status_code, second.status_code) == (201, 409), second
    assert (second.json()["code"], second["Retry-After"]) == ("key_underway", "2")


def test_without_being_told_the_second_waits_for_the_first(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    device = arena.do(a_device)
    monkeypatch.setattr("api.once.alone", lambda _purpose: transaction.atomic())
    first, second = race_into_the_work(arena, device, monkeypatch)
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.content == second.content


def send_naively(device: Device, line: Barrier) -> None:
    """Look for the key, then do the work: what the key's constraint and its transaction stand against."""
    workshop = device.world.workshop
    is_known = Submission.objects.within(workshop).filter(key="one").exists()
    line.wait(STUCK_SECONDS)
    if not is_known:
        add_scale(workshop=workshop, name="Pocket scale", step_g=1)
        Submission.unscoped.create(workshop=workshop, key="one", fingerprint="", at=device.world.now)


def test_without_the_guards_it_is_done_twice(arena: Arena) -> None:
    device = arena.do(a_device)
    arena.do(partial(drop_constraint, "workshops", "submission", "submission_once"))
    arena.do(partial(drop_constraint, "workshops", "scale", "scale_name_once"))
    line = Barrier(2)
    assert arena.race(*[partial(send_naively, device, line)] * 2) == [None, None]
    assert arena.do(partial(pocket_scales, device)) == 2
