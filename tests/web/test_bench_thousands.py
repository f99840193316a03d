"""A mass such as 1.000 is one gram or a thousand: it is asked about where both could be meant."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.making.models import Batch, BatchLiquid
from curehouse.workshops.services import change_preferences
from tests.web.bench_typing import enter, liquids, nothing_was_written
from tests.web.on_round import set_clock
from tests.web.reading_pages import words_of
from tests.world import World


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


@pytest.mark.parametrize(
    ("changes", "asked", "answers"),
    [
        ({"fats_g": "2.000"}, "Fats “2.000”: is that 2 g or 2000 g?", ("fats_g=2000", "fats_g=2")),
        ({"fats_g": "2,055"}, "Fats “2,055”: is that 2.055 g or 2055 g?", ("fats_g=2055", "fats_g=2.0550")),
        (
            liquids(("water", "1.000", "front", "")),
            "Liquid 1 “1.000”: is that 1 g or 1000 g?",
            ("liquids-0-mass_g=1000", "liquids-0-mass_g=1"),
        ),
    ],
)
def test_a_mass_that_reads_two_ways_is_asked_about_and_not_kept(
    maker: Client, world: World, changes: dict[str, str], asked: str, answers: tuple[str, str]
) -> None:
    page = enter(maker, **changes)
    assert asked in words_of(page)
    assert tuple(re.findall(r'name="take_mass" value="([^"]+)"', page.content.decode())) == answers
    assert nothing_was_written(world)


@pytest.mark.parametrize(("answer", "fats_g"), [("fats_g=2000", 2000), ("fats_g=2", 2)])
def test_each_answer_is_taken_in_one_step(maker: Client, world: World, answer: str, fats_g: int) -> None:
    rest = {} if fats_g == 2000 else {"lye_g": "0.28", **liquids(("water", "0.6", "front", ""))}
    assert enter(maker, fats_g="2.000", take_mass=answer, **rest).status_code == 302
    assert Batch.objects.within(world.workshop).get().fats_g == fats_g


def test_a_figure_to_the_milligram_is_asked_about_once(maker: Client, world: World) -> None:
    rows = liquids(("water", "640", "front", ""), ("goat_milk", "1.255", "trace", ""))
    assert "Liquid 2 “1.255”: is that 1.255 g or 1255 g?" in words_of(enter(maker, **rows))
    assert enter(maker, **rows, take_mass="liquids-1-mass_g=1.2550").status_code == 302
    milk = BatchLiquid.objects.within(world.workshop).get(kind="goat_milk")
    assert milk.mass_g == Decimal("1.255")


def test_fats_and_liquid_are_asked_about_together_and_answered_one_by_one(maker: Client, world: World) -> None:
    rows = liquids(("water", "1.000", "front", ""))
    both = words_of(enter(maker, fats_g="3.000", lye_g="420", **rows))
    assert ("is that 3 g or 3000 g?" in both, "is that 1 g or 1000 g?" in both) == (True, True)
    page = enter(maker, fats_g="3.000", lye_g="420", **rows, take_mass="fats_g=3000")
    assert 'name="fats_g" value="3000"' in page.content.decode()
    assert ("3000 g?" in words_of(page), "is that 1 g or 1000 g?" in words_of(page)) == (False, True)
    sent = {"fats_g": "3000", "lye_g": "420", **rows}
    assert enter(maker, **sent, take_mass="liquids-0-mass_g=1000").status_code == 302
    assert Batch.objects.within(world.workshop).get().liquids.get().mass_g == 1000


@pytest.mark.parametrize(
    "changes",
    [
        {"fats_g": "2000.0"},
        {"fats_g": "2000.000"},
        # A tonne is no slip of a mark.
        {"fats_g": "999.500", "lye_g": "140", **liquids(("water", "320", "front", ""))},
        liquids(("water", "420.5", "front", ""), ("goat_milk", "0.250", "trace", "")),
        # 220 kg of milk go with no 2 kg of fats.
        liquids(("water", "420", "front", ""), ("goat_milk", "220.000", "trace", "")),
    ],
)
def test_what_reads_one_way_only_is_not_asked_about(maker: Client, world: World, changes: dict[str, str]) -> None:
    assert enter(maker, **changes).status_code == 302


def test_what_the_last_batch_brought_is_not_asked_about_and_what_was_typed_over_it_is(maker: Client, world: World) -> None:
    rows = liquids(("water", "640", "front", ""), ("goat_milk", "1.255", "trace", ""))
    enter(maker, **rows, take_mass="liquids-1-mass_g=1.2550")
    last = Batch.objects.within(world.workshop).get()
    page = maker.get(f"{reverse('web:batch_new')}?like={last.pk}").content.decode()
    brought = re.search(r'name="as_before" value="([^"]*)"', page)[1]
    assert brought == "liquids-1-mass_g=1.255"
    over = liquids(("water", "640", "front", ""), ("goat_milk", "1.275", "trace", ""))
    asked = enter(maker, **over, as_before=brought)
    assert "is that 1.275 g or 1275 g?" in words_of(asked)
    assert f'name="as_before" value="{brought}"' in asked.content.decode()
    more = enter(maker, **rows, as_before=brought, more="1").content.decode()
    assert f'name="as_before" value="{brought}"' in more
    assert enter(maker, **rows, as_before=brought).status_code == 302


def test_the_question_is_asked_in_ounces(maker: Client, world: World) -> None:
    change_preferences(workshop=world.workshop, changes={"unit": "oz"})
    assert "Fats “2.500”: is that 2.5 oz or 2500 oz?" in words_of(enter(maker, fats_g="2.500"))
    assert nothing_was_written(world)


def test_an_answer_that_names_no_mass_changes_nothing(maker: Client, world: World) -> None:
    assert "is that 2 g or 2000 g?" in words_of(enter(maker, fats_g="2.000", take_mass="nonsense"))
    assert nothing_was_written(world)
