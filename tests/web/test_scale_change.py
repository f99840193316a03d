"""A scale gets another name, or another step, and what was weighed keeps its own."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import Reading
from curehouse.workshops.models import Scale
from curehouse.workshops.services import add_scale, add_tare, change_preferences, retire_scale
from tests.web.on_round import set_clock
from tests.web.reading_pages import send, words_of
from tests.world import World


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


def steps(world: World) -> dict[str, tuple[Decimal, bool]]:
    rows = Scale.objects.within(world.workshop).order_by("pk")
    return {row.name: (row.step_g, row.retired_at is None) for row in rows}


def test_a_scale_gets_another_name_and_stays_the_same(maker: Client, world: World) -> None:
    page = maker.get(reverse("web:scale", args=[world.scale.pk])).content.decode()
    assert f'href="{reverse("web:scale_change", args=[world.scale.pk])}"' in page
    answer = send(maker, "scale_change", world.scale.pk, name="Bench  scale", step_g="0,1")
    assert answer.url == reverse("web:scale", args=[world.scale.pk])
    assert steps(world) == {"Bench scale": (Decimal("0.1"), True)}


def test_another_step_is_another_scale_of_the_same_name_and_weighings_keep_theirs(maker: Client, world: World) -> None:
    batch = world.batch()
    world.weigh(world.bar(batch), "120.4", moment=world.days_ago(1))
    words = words_of(maker.get(reverse("web:scale_change", args=[world.scale.pk])))
    assert "goes out of use as “Kitchen scale (steps of 0.1 g)”, and a new one takes its name" in words
    answer = send(maker, "scale_change", world.scale.pk, name="Kitchen scale", step_g="1")
    assert steps(world) == {"Kitchen scale (steps of 0.1 g)": (Decimal("0.1"), False), "Kitchen scale": (1, True)}
    assert "Kitchen scale now has its new step: check it with a test weight." in words_of(maker.get(answer.url))
    assert Reading.objects.within(world.workshop).get().scale.step_g == Decimal("0.1")
    # Back and forth: the names of those out of use stay apart.
    for step in ("0.1", "1", "0.1"):
        pk = Scale.objects.within(world.workshop).in_use().get().pk
        send(maker, "scale_change", pk, name="Kitchen scale", step_g=step)
    assert list(steps(world))[2:] == ["Kitchen scale (steps of 0.1 g, 2)", "Kitchen scale (steps of 1 g, 2)", "Kitchen scale"]


def test_what_stands_on_a_scale_goes_along_to_its_new_step_where_that_can_show_it(maker: Client, world: World) -> None:
    for name, weight_g in (("Tray", "84.0"), ("Sheet of paper", "0.6")):
        add_tare(scale=world.scale, name=name, weight_g=Decimal(weight_g))
    send(maker, "scale_change", world.scale.pk, name="Kitchen scale", step_g="1")
    new = Scale.objects.within(world.workshop).in_use().get()
    assert list(new.tares.values_list("name", "weight_g")) == [("Tray", Decimal(84))]


def test_a_step_shown_rounded_in_ounces_is_the_same_when_it_comes_back(maker: Client, world: World) -> None:
    change_preferences(workshop=world.workshop, changes={"unit": "oz"})
    page = maker.get(reverse("web:scale_change", args=[world.scale.pk])).content.decode()
    shown = re.search(r'name="step_g"[^>]*value="([0-9.]+)"|value="([0-9.]+)"[^>]*name="step_g"', page)
    assert shown is not None
    step = shown[1] or shown[2]
    assert len(step) <= len("0.0035") + 2, "a step of 0.1 g is no long figure"
    send(maker, "scale_change", world.scale.pk, name="Shed scale", step_g=step)
    assert steps(world) == {"Shed scale": (Decimal("0.1"), True)}


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"name": ""}, "The scale's name is missing: type a name."),
        ({"name": "Balance"}, "There is a scale called Balance already: choose another name."),
        ({"name": "Balance", "step_g": "1"}, "There is a scale called Balance already: choose another name."),
        ({"step_g": "500"}, "The scale's step lies between 0.001 and 100 g, such as 0.1."),
        ({"step_g": "fine"}, "type figures"),
    ],
)
def test_a_wrong_change_is_answered_with_its_remedy(maker: Client, world: World, changes: dict[str, str], remedy: str) -> None:
    add_scale(workshop=world.workshop, name="Balance", step_g=Decimal("0.01"))
    before = steps(world)
    assert remedy in words_of(
        send(maker, "scale_change", world.scale.pk, **{"name": "Kitchen scale", "step_g": "0.1", **changes})
    )
    assert steps(world) == before


def test_a_long_name_leaves_room_for_the_step(maker: Client, world: World) -> None:
    send(maker, "scale_change", world.scale.pk, name="n" * 80, step_g="0.1")
    send(maker, "scale_change", world.scale.pk, name="n" * 80, step_g="1")
    assert list(steps(world)) == ["n" * 63 + " (steps of 0.1 g)", "n" * 80]


def test_a_scale_out_of_use_is_not_changed(maker: Client, world: World) -> None:
    retire_scale(scale=world.scale, at=world.now)
    assert maker.get(reverse("web:scale_change", args=[world.scale.pk])).status_code == 409
    answer = send(maker, "scale_change", world.scale.pk, name="Other", step_g="1")
    assert "Kitchen scale is out of use: add a scale instead." in words_of(answer)
    assert list(steps(world)) == ["Kitchen scale"]
