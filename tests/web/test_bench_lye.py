"""Lye that cannot be right is asked about where a batch is entered, and kept only if somebody says so."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.making.models import Batch
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


def the_batch(world: World) -> Batch:
    return Batch.objects.within(world.workshop).get()


def test_too_much_lye_is_asked_about_in_words_and_not_kept(maker: Client, world: World) -> None:
    answer = enter(maker, lye_g="640")
    words = words_of(answer)
    for said in (
        "640 g of lye is more than soap takes: check both weights.",
        "For 2000 g of fats no fat of soap takes less than 182.5 or more than 377.8 g of sodium hydroxide",
        "Too much lye burns skin",
        "whether the lye is right for your fats, it cannot say.",
        "Keep 640.0 g: weighed and right",
    ):
        assert said in words
    assert 'value="640"' in answer.content.decode()
    assert nothing_was_written(world)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"lye_g": "2835"}, "Perhaps it was 283.5 g."),
        ({"lye_g": "28,35"}, "28.4 g of lye is less than soap takes"),
        ({"lye_g": "28,35"}, "Perhaps it was 283.5 g."),
        # A comma for the thousands is read as a decimal one.
        ({"lye_g": "2,835"}, "Perhaps it was 283.5 g."),
        (
            {"lye_g": "640", **liquids(("water", "283.5", "front", ""))},
            "Perhaps it was 283.5 g, which stands among the liquids: did the two change places?",
        ),
    ],
)
def test_what_was_probably_meant_is_named(maker: Client, world: World, changes: dict[str, str], said: str) -> None:
    assert said in words_of(enter(maker, **changes))
    assert nothing_was_written(world)


def test_what_was_probably_meant_is_taken_in_one_step(maker: Client, world: World) -> None:
    page = enter(maker, lye_g="28.35").content.decode()
    assert '<button class="button second" type="submit" name="take_lye" value="283.5">Take 283.5 g</button>' in page
    assert enter(maker, lye_g="28.35", take_lye="283.5").status_code == 302
    assert (the_batch(world).lye_g, the_batch(world).lye_confirmed) == (Decimal("283.5"), False)


def test_where_lye_and_water_changed_places_nothing_is_taken_in_one_step(maker: Client) -> None:
    page = enter(maker, lye_g="640", **liquids(("water", "283.5", "front", "")))
    assert "take_lye" not in page.content.decode()
    assert "Keep 640.0 g: weighed and right" in words_of(page)


def test_an_unusual_amount_is_kept_once_it_is_confirmed_and_says_so_on_the_batch(maker: Client, world: World) -> None:
    assert 'name="lye_confirmed" value="420.000"' in enter(maker, lye_g="420").content.decode()
    answer = enter(maker, lye_g="420", lye_confirmed="420.000")
    assert (the_batch(world).lye_g, the_batch(world).lye_confirmed) == (420, True)
    assert "Sodium hydroxide (NaOH) out of the usual, confirmed at the entry 420 g" in words_of(maker.get(answer.url))


def test_another_amount_than_the_one_confirmed_is_asked_about_again(maker: Client, world: World) -> None:
    assert "430 g of lye is more than soap takes" in words_of(enter(maker, lye_g="430", lye_confirmed="420.000"))
    assert nothing_was_written(world)


def test_confirming_what_needs_no_confirming_leaves_no_mark(maker: Client, world: World) -> None:
    enter(maker, lye_confirmed="283.500")
    assert not the_batch(world).lye_confirmed


def test_a_confirmed_amount_stays_confirmed_while_the_place_is_asked_about(maker: Client, world: World) -> None:
    position = world.position(world.rack(capacity=10))
    page = enter(maker, lye_g="420", lye_confirmed="420.000", position=str(position.pk)).content.decode()
    assert '<input type="hidden" name="lye_confirmed" value="420.000"' in page
    sent = {"lye_g": "420", "lye_confirmed": "420.000", "position": str(position.pk)}
    assert enter(maker, **sent, when_full="raise").status_code == 302
    assert the_batch(world).lye_confirmed


def test_the_question_is_asked_in_the_workshop_s_ounces(maker: Client, world: World) -> None:
    change_preferences(workshop=world.workshop, changes={"unit": "oz"})
    sent = {"fats_g": "70", "lye_g": "1", **liquids(("water", "22", "front", ""))}
    answer = enter(maker, **sent)
    # 70 oz by 0.0912 and 0.1889 g of NaOH a gram.
    assert "For 70.00 oz of fats no fat of soap takes less than 6.39 or more than 13.22 oz of sodium hydroxide" in words_of(
        answer
    )
    assert ">Take 10 oz</button>" in answer.content.decode()


def test_lye_over_the_fats_is_refused_even_if_confirmed(maker: Client, world: World) -> None:
    words = words_of(enter(maker, lye_g="2835", lye_confirmed="2835.000"))
    assert "More lye than fats: check both weights before anyone touches this batch." in words
    assert "weighed and right" not in words
    assert nothing_was_written(world)


def test_the_water_share_is_shown_however_the_lye_stands(maker: Client, world: World) -> None:
    sent = {"fats_g": "2000", "lye_g": "640", **liquids(("water", "640", "front", ""))}
    assert "of the fresh bar" in words_of(maker.post(reverse("web:water_share"), sent))
