"""Scales and devices: added, checked, taken out of use, let in and shut out."""

import re
import uuid
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.workshops.models import DeviceToken, Scale, ScaleCheck
from curehouse.workshops.services import add_scale, check_scale, find_token, give_token
from tests.web.on_round import set_clock
from tests.web.reading_pages import send, words_of
from tests.world import World


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


def scales_of(world: World) -> list[str]:
    return list(Scale.objects.within(world.workshop).in_use().values_list("name", flat=True))


def test_a_scale_is_added_checked_and_taken_out_of_use(maker: Client, world: World) -> None:
    assert send(maker, "scales", name="Bench  balance", step_g="0,01").url == reverse("web:scales")
    scale = Scale.objects.within(world.workshop).get(name="Bench balance")
    assert "steps of 0.01 g; not checked with a test weight yet" in words_of(maker.get(reverse("web:scales")))
    assert send(maker, "scale", scale.pk, test_weight_g="100", shown_g="99,7").url == reverse("web:scale", args=[scale.pk])
    check = ScaleCheck.objects.within(world.workshop).get()
    assert (check.test_weight_g, check.shown_g, check.by_user) == (100, Decimal("99.7"), world.owner)
    words = words_of(maker.get(reverse("web:scale", args=[scale.pk])))
    assert "checked Tue 10 Mar: it showed 0.3 g too little" in words
    assert "off by more than one step" in words
    assert "? off" in words_of(maker.get(reverse("web:scales")))
    assert send(maker, "scale_retire", scale.pk).url == reverse("web:scales")
    assert scales_of(world) == ["Kitchen scale"]
    assert "– out of use" in words_of(maker.get(reverse("web:scales")))


def test_a_scale_that_shows_the_test_weight_within_a_step_is_not_called_off(maker: Client, world: World) -> None:
    send(maker, "scale", world.scale.pk, test_weight_g="100", shown_g="100.1")
    words = words_of(maker.get(reverse("web:scales")))
    assert "it showed 0.1 g too much" in words
    assert "? off" not in words
    send(maker, "scale", world.scale.pk, test_weight_g="100", shown_g="100.0")
    assert "it showed the test weight right" in words_of(maker.get(reverse("web:scale", args=[world.scale.pk])))


@pytest.mark.parametrize(
    ("sent", "remedy"),
    [
        ({"name": "", "step_g": "0.1"}, "The scale's name is missing: type a name."),
        ({"name": "n" * 81, "step_g": "0.1"}, "The scale's name has 81 characters: keep it to 80."),
        ({"name": "Kitchen scale", "step_g": "0.1"}, "There is a scale called Kitchen scale already: choose another name."),
        ({"name": "Balance", "step_g": ""}, "The scale's step is missing: type it in figures."),
        ({"name": "Balance", "step_g": "-1"}, "The scale's step must be more than 0 g."),
        ({"name": "Balance", "step_g": "500"}, "The scale's step lies between 0.001 and 100 g, such as 0.1."),
    ],
)
def test_a_wrong_scale_is_answered_with_its_remedy(maker: Client, world: World, sent: dict[str, str], remedy: str) -> None:
    answer = send(maker, "scales", **sent)
    assert remedy in words_of(answer)
    assert f'value="{sent["name"]}"' in answer.content.decode() or not sent["name"]
    assert scales_of(world) == ["Kitchen scale"]


@pytest.mark.parametrize(
    ("sent", "remedy"),
    [
        ({"test_weight_g": "", "shown_g": "100"}, "The test weight is missing: type it in figures."),
        ({"test_weight_g": "0", "shown_g": "100"}, "The test weight must be more than 0 g."),
        ({"test_weight_g": "100", "shown_g": "hundred"}, "The weight shown reads “hundred”: type figures"),
        ({"test_weight_g": "100", "shown_g": "9999999"}, "The weight shown is over 999999 g: check the figure."),
    ],
)
def test_a_wrong_check_is_answered_with_its_remedy(maker: Client, world: World, sent: dict[str, str], remedy: str) -> None:
    assert remedy in words_of(send(maker, "scale", world.scale.pk, **sent))
    assert not ScaleCheck.objects.within(world.workshop).exists()


def test_a_check_sent_twice_is_one(maker: Client, world: World) -> None:
    key = str(uuid.uuid4())
    answers = [send(maker, "scale", world.scale.pk, key=key, test_weight_g="100", shown_g="100") for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert ScaleCheck.objects.within(world.workshop).count() == 1


def test_a_device_s_secret_is_shown_once_and_opens_the_door(maker: Client, world: World) -> None:
    key = str(uuid.uuid4())
    answer = send(maker, "devices", key=key, name="shed tablet", reach="weighs")
    secret = re.search(r"ch_[\w-]{40,}", words_of(answer)).group()
    assert "no-store" in answer["Cache-Control"]
    assert find_token(secret=secret, at=world.now).name == "shed tablet"
    again = send(maker, "devices", key=key, name="shed tablet", reach="weighs")
    assert again.url == reverse("web:devices")
    assert DeviceToken.objects.within(world.workshop).count() == 1
    words = words_of(maker.get(reverse("web:devices")))
    assert secret not in words
    assert "given Tue 10 Mar by Ottilie Brandt; last used Tue 10 Mar, 10:00" in words


def test_a_device_that_is_shut_out_stays_listed(maker: Client, world: World) -> None:
    token, secret = give_token(actor=world.actor, name="lost phone", reach="works", at=world.now)
    assert "not used yet" in words_of(maker.get(reverse("web:devices")))
    assert send(maker, "device_revoke", token.pk).url == reverse("web:devices")
    assert find_token(secret=secret, at=world.now) is None
    assert "✕ shut out" in words_of(maker.get(reverse("web:devices")))
    again = send(maker, "device_revoke", token.pk)
    assert again.status_code == 409
    assert "This token was taken back already." in words_of(again)


@pytest.mark.parametrize(
    ("name", "remedy"),
    [("", "The device's name is missing: type a name."), ("d" * 81, "The device's name has 81 characters: keep it to 80.")],
)
def test_a_device_without_a_fit_name_gets_no_token(maker: Client, world: World, name: str, remedy: str) -> None:
    assert remedy in words_of(send(maker, "devices", name=name))
    assert not DeviceToken.objects.within(world.workshop).exists()


def test_a_stranger_s_scales_and_devices_are_not_here(maker: Client, stranger: World) -> None:
    token, _secret = give_token(actor=stranger.actor, name="their tablet", reach="works", at=stranger.now)
    assert maker.get(reverse("web:scale", args=[stranger.scale.pk])).status_code == 404
    for answer in (
        send(maker, "scale", stranger.scale.pk, test_weight_g="100", shown_g="100"),
        send(maker, "scale_retire", stranger.scale.pk),
        send(maker, "device_revoke", token.pk),
    ):
        assert answer.status_code == 404
        assert "There is no such" in words_of(answer)
    assert "their tablet" not in words_of(maker.get(reverse("web:devices")))
    stranger.scale.refresh_from_db()
    token.refresh_from_db()
    assert (stranger.scale.retired_at, token.revoked_at) == (None, None)


@pytest.mark.parametrize("page", ["scales", "devices", "workshop"])
def test_a_list_takes_the_same_queries_with_two_rows_and_with_twenty(maker: Client, world: World, page: str) -> None:
    def fill(numbers: range) -> int:
        for number in numbers:
            scale = add_scale(workshop=world.workshop, name=f"Scale {number}", step_g=Decimal("0.1"))
            check_scale(actor=world.actor, scale=scale, test_weight_g=Decimal(100), shown_g=Decimal(100), at=world.now)
            give_token(actor=world.actor, name=f"Device {number}", reach="works", at=world.now)
        with CaptureQueriesContext(connection) as captured:
            maker.get(reverse(f"web:{page}"))
        return len(captured)

    few = fill(range(2))
    # Session, person, membership with its workshop, open notices, and at most three for the page itself.
    assert few <= 7
    assert fill(range(2, 20)) == few
