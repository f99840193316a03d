"""What stands on a scale and can be forgotten: told to the house, and asked about by its name."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.workshops.models import ScaleTare
from curehouse.workshops.services import add_tare, retire_scale
from tests.web.on_round import Walker, set_clock, text_of
from tests.web.reading_pages import send, words_of
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


@pytest.fixture
def walker(world: World, monkeypatch: pytest.MonkeyPatch) -> Walker:
    set_clock(monkeypatch, world.now)
    return Walker(world)


def in_use(world: World) -> list[tuple[str, Decimal]]:
    return list(ScaleTare.objects.within(world.workshop).in_use().values_list("name", "weight_g"))


def test_a_tare_is_added_shown_with_its_scale_and_taken_away(maker: Client, world: World) -> None:
    page = reverse("web:scale_tares", args=[world.scale.pk])
    assert "No tare yet" in words_of(maker.get(page))
    assert send(maker, "scale_tares", world.scale.pk, name="drying  tray", weight_g="84,0").url == page
    assert in_use(world) == [("drying tray", Decimal("84.000"))]
    assert "drying tray 84.0 g" in words_of(maker.get(page))
    assert "drying tray, 84.0 g." in words_of(maker.get(reverse("web:scale", args=[world.scale.pk])))
    tare = ScaleTare.objects.within(world.workshop).get()
    assert send(maker, "tare_retire", tare.pk).url == page
    assert in_use(world) == []
    # Its name is free again, and the old row stays.
    send(maker, "scale_tares", world.scale.pk, name="drying tray", weight_g="91")
    assert ScaleTare.objects.within(world.workshop).count() == 2


@pytest.mark.parametrize(
    ("sent", "remedy"),
    [
        ({"name": "", "weight_g": "84"}, "The tare's name is missing: type a name."),
        ({"name": "Bowl", "weight_g": "84"}, "Kitchen scale has a tare called Bowl already: choose another name."),
        ({"name": "Tray", "weight_g": ""}, "The tare's weight is missing: type it in figures."),
        ({"name": "Tray", "weight_g": "0"}, "The tare's weight must be more than 0 g."),
        ({"name": "Tray", "weight_g": "0.05"}, "The tare weighs less than the scale shows: leave it out."),
        ({"name": "Tray", "weight_g": "20001"}, "The tare's weight lies between 0.001 g and 20 kg, such as 84.0."),
    ],
)
def test_a_wrong_tare_is_answered_with_its_remedy(maker: Client, world: World, sent: dict[str, str], remedy: str) -> None:
    add_tare(scale=world.scale, name="Bowl", weight_g=Decimal(200))
    assert remedy in words_of(send(maker, "scale_tares", world.scale.pk, **sent))
    assert in_use(world) == [("Bowl", Decimal("200.000"))]


def test_a_scale_out_of_use_gets_no_tare(maker: Client, world: World) -> None:
    retire_scale(scale=world.scale, at=world.now)
    answer = send(maker, "scale_tares", world.scale.pk, name="Tray", weight_g="84")
    assert "This scale is out of use." in words_of(answer)
    assert in_use(world) == []


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("204.8", "Was the tray (84.0 g) on the scale? 120.8 g would fit."),
        ("36.8", "Was the scale set to zero with the tray (84.0 g) on it? 120.8 g would fit."),
    ],
)
def test_a_weight_off_by_the_tray_is_asked_about_by_its_name_and_put_right_with_one_press(
    world: World, walker: Walker, typed: str, words: str
) -> None:
    add_tare(scale=world.scale, name="tray", weight_g=Decimal("84.0"))
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0", 21: "121.6"})
    bar = world.bar(batch)
    walker.type(bar, typed)
    (asked,) = walker.readings(bar)
    assert (asked.doubt, asked.doubt_guess_g) == ("tare", Decimal("120.800"))
    assert words in text_of(walker.get(bar))
    walker.answer("reading_take", asked)
    assert [(row.weight_g, row.standing) for row in walker.readings(bar)][-1] == (Decimal("120.800"), "counts")


def test_a_tare_that_was_taken_away_or_stands_on_another_scale_is_not_asked_about(world: World, walker: Walker) -> None:
    tare = add_tare(scale=world.scale, name="tray", weight_g=Decimal("84.0"))
    send(walker.client, "tare_retire", tare.pk)
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0", 21: "121.6"})
    walker.type(world.bar(batch), "204.8")
    (asked,) = walker.readings(world.bar(batch))
    assert asked.doubt == "too_heavy"


def test_the_second_bar_that_is_off_alike_is_asked_about_for_the_tare_and_names_the_first(world: World, walker: Walker) -> None:
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0", 21: "121.6"})
    for letter in "AB":
        walker.type(world.bar(batch, letter), "127.8")
    asked = [walker.readings(world.bar(batch, letter))[-1] for letter in "AB"]
    assert [row.doubt for row in asked] == ["too_heavy", "tare"]
    assert asked[1].doubt_guess_g == pytest.approx(Decimal("120.8"), abs=Decimal("0.8"))
    words = text_of(walker.get(world.bar(batch, "B")))
    assert re.search(r"So was the bar before, by 7\.\d g: tare forgotten\? 12\d\.\d g would fit\.", words)
