"""The key an app is given, while the second step is not on yet."""

import pyotp
import pytest
from django.urls import reverse

from curehouse.workshops.models import SecondStep
from tests.web.reading_pages import words_of
from tests.web.test_second_step import Clock, clock  # noqa: F401  (a fixture)
from tests.web.visitor import Visitor
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db


def key_on(visitor: Visitor) -> str:
    page = visitor.get("second_step").content.decode()
    return page.partition('class="command secret">')[2].partition("<")[0].replace(" ", "")


def test_a_key_read_off_a_screen_left_alone_is_not_the_one_that_is_switched_on_later(
    world: World,
    clock: Clock,  # noqa: F811
) -> None:
    visitor = Visitor(world)
    seen = key_on(visitor)
    clock.go(minutes=14)
    assert key_on(visitor) == seen, "a page loaded anew shows the same key"
    clock.go(minutes=2)
    shown = key_on(visitor)
    assert shown != seen
    said = {"code": pyotp.TOTP(shown).at(clock.at), "present_password": PASSWORD}
    assert visitor.client.post(reverse("web:second_step"), said).status_code == 200
    assert SecondStep.objects.count() == 1


def test_the_code_of_a_key_that_is_over_is_told_to_take_the_new_one(world: World, clock: Clock) -> None:  # noqa: F811
    visitor = Visitor(world)
    old = pyotp.TOTP(key_on(visitor))
    clock.go(minutes=16)
    page = visitor.client.post(reverse("web:second_step"), {"code": old.at(clock.at), "present_password": PASSWORD})
    assert "give your app the new one above" in words_of(page)
    assert SecondStep.objects.count() == 0
    assert key_on(visitor).encode() in page.content.replace(b" ", b"")
