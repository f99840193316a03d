"""Cutting a batch, beginning like the last one, and a place that is too small."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import Occupancy, Position, SampleBar
from curehouse.making.models import Batch
from curehouse.making.services import LiquidEntry
from tests.web.bench_typing import enter
from tests.web.on_round import set_clock
from tests.web.reading_pages import send, words_of
from tests.world import World

CUT = {"cut_at": "2026-03-10T09:30", "bars": "22", "sample_bars": "4", "position": ""}


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


@pytest.fixture
def poured(world: World) -> Batch:
    return world.batch(cut_days_ago=None, poured_at=world.now - timedelta(days=1))


def standing(world: World) -> dict[str, int]:
    return {str(row.position): row.bars for row in Occupancy.objects.within(world.workshop).standing()}


def test_a_poured_batch_is_cut_marked_and_placed(maker: Client, world: World, poured: Batch) -> None:
    position = world.position(world.rack())
    answer = send(maker, "batch_cut", poured.pk, **{**CUT, "position": str(position.pk)})
    assert answer.url == reverse("web:batch", args=[poured.pk])
    poured.refresh_from_db()
    assert (poured.state, poured.bars_cut, poured.cut_at) == ("curing", 22, world.now - timedelta(minutes=30))
    assert SampleBar.objects.within(world.workshop).filter(batch=poured).count() == 4
    assert standing(world) == {"North wall, level 1, place 1": 22}
    assert "Mark bars A to D and weigh them now." in words_of(maker.get(answer.url))


def test_the_cut_begins_with_now_and_with_the_bars_of_the_last_time(maker: Client, world: World, poured: Batch) -> None:
    world.batch(cut_days_ago=30, bars=26)
    page = maker.get(reverse("web:batch_cut", args=[poured.pk])).content.decode()
    assert 'name="cut_at" value="2026-03-10T10:00"' in page
    assert 'name="bars" value="26"' in page


def test_a_smaller_batch_proposes_fewer_bars_and_says_by_what(maker: Client, world: World, poured: Batch) -> None:
    before = world.batch(cut_days_ago=30, bars=26)
    Batch.objects.within(world.workshop).filter(pk=poured.pk).update(fats_g=before.fats_g / 2)
    page = maker.get(reverse("web:batch_cut", args=[poured.pk]))
    assert 'name="bars" value="13"' in page.content.decode()
    assert "13 bars are proposed, as its batches gave of" in words_of(page)


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"cut_at": ""}, "The cut is missing: choose a day and a time."),
        ({"cut_at": "2026-03-01T09:00"}, "The cut comes before the pour: check both times."),
        ({"cut_at": "2026-03-11T09:00"}, "The cut lies in the future"),
        ({"bars": ""}, "The number of bars is missing: type a whole number."),
        ({"sample_bars": ""}, "The number of sample bars is missing: type a whole number."),
        ({"bars": "3", "sample_bars": "4"}, "Mark between 1 and 3 sample bars"),
    ],
)
def test_a_wrong_cut_is_answered_with_its_remedy_and_cuts_nothing(
    maker: Client, poured: Batch, changes: dict[str, str], remedy: str
) -> None:
    assert remedy in words_of(send(maker, "batch_cut", poured.pk, **{**CUT, **changes}))
    poured.refresh_from_db()
    assert (poured.state, poured.bars_cut) == ("poured", 0)


def test_a_batch_is_cut_once(maker: Client, poured: Batch) -> None:
    send(maker, "batch_cut", poured.pk, **CUT)
    assert f"{poured} was cut already." in words_of(send(maker, "batch_cut", poured.pk, **CUT))


def test_a_stranger_s_batch_is_neither_cut_nor_copied_nor_its_place_taken(maker: Client, stranger: World) -> None:
    theirs = stranger.batch(cut_days_ago=None)
    place = stranger.position(stranger.rack())
    assert maker.get(reverse("web:batch_cut", args=[theirs.pk])).status_code == 404
    assert send(maker, "batch_cut", theirs.pk, **CUT).status_code == 404
    assert maker.get(reverse("web:batch_new"), {"like": theirs.pk}).status_code == 404
    assert "This place is not in the workshop" in words_of(enter(maker, position=str(place.pk)))
    theirs.refresh_from_db()
    assert theirs.state == "poured"
    assert standing(stranger) == {}


def test_the_next_batch_begins_like_the_last_of_its_formula(maker: Client, world: World) -> None:
    world.batch(cut_days_ago=60, fats_g=Decimal(1800))
    last = world.batch(
        cut_days_ago=20,
        sample_bars=5,
        bars=25,
        fats_g=Decimal("2000.5"),
        note="Only this time.",
        liquids=[LiquidEntry("water", Decimal(400)), LiquidEntry("goat_milk", Decimal(230), Decimal("0.86"), "trace")],
        water_share_stated=Decimal("0.225"),
    )
    bench = maker.get(reverse("web:bench"))
    assert words_of(bench).count("Like the last Goat & oat") == 1
    address = re.search(r'href="([^"]+\?like=\d+)"', bench.content.decode()).group(1)
    assert address == f"{reverse('web:batch_new')}?like={last.pk}"
    page = maker.get(address).content.decode()
    for begun in (
        'name="formula_name" value="Goat &amp; oat"',
        'name="fats_g" value="2000.5"',
        'name="lye_g" value="283.5"',
        'name="bars" value="25"',
        'name="sample_bars" value="5"',
        'name="water_share_stated" value="22.5"',
        'name="liquids-0-mass_g" value="400"',
        'name="liquids-1-mass_g" value="230"',
        'name="liquids-1-water_pct" value="86"',
        '<option value="goat_milk" selected>',
    ):
        assert begun in page
    assert 'name="liquids-0-water_pct" value' not in page
    assert "Only this time." not in page


@pytest.mark.parametrize("like", ["", "goat", "-1", "9" * 30, "١"])
def test_a_start_that_is_no_batch_s_is_an_empty_one(maker: Client, like: str) -> None:
    page = maker.get(reverse("web:batch_new"), {"like": like})
    assert page.status_code == 200
    assert 'value="2026-03-10T10:00"' in page.content.decode()


def small_place(world: World) -> Position:
    return world.position(world.rack(capacity=20))


def refused(maker: Client, place: Position) -> HttpResponse:
    answer = enter(maker, position=str(place.pk))
    assert answer.status_code == 200
    return answer


def test_a_place_that_is_too_small_is_answered_with_two_ways_out(maker: Client, world: World) -> None:
    answer = refused(maker, small_place(world))
    words = words_of(answer)
    assert "holds 0 of 20 bars, so 24 more do not fit" in words
    assert "Raise it to 24 bars" in words
    assert "Put 4 elsewhere" in words
    assert 'name="when_full" value="raise"' in answer.content.decode()
    assert not Batch.objects.within(world.workshop).exists()


def test_a_place_that_is_too_small_is_raised_in_one_step(maker: Client, world: World) -> None:
    place = small_place(world)
    refused(maker, place)
    enter(maker, position=str(place.pk), when_full="raise")
    place.refresh_from_db()
    assert (place.capacity_bars, place.bars_held) == (24, 24)


def test_what_does_not_fit_is_put_elsewhere_in_one_step(maker: Client, world: World) -> None:
    place = small_place(world)
    refused(maker, place)
    enter(maker, position=str(place.pk), when_full="elsewhere")
    assert standing(world) == {"North wall, level 1, place 1": 20, "North wall, level 1, place 2": 4}


def test_a_house_without_room_offers_to_raise_only(maker: Client, world: World) -> None:
    place = world.position(world.rack(levels=1, places=1, capacity=20))
    words = words_of(refused(maker, place))
    assert "Raise it to 24 bars" in words
    assert "elsewhere" not in words


def test_the_list_of_places_says_how_many_bars_each_still_takes(maker: Client, world: World) -> None:
    world.batch(position=world.position(world.rack("North wall")), bars=10)
    words = words_of(maker.get(reverse("web:batch_new")))
    assert "North wall, level 1, place 1 (14 free)" in words
    assert "North wall, level 1, place 2 (24 free)" in words


def test_full_places_come_last_in_the_list_and_say_so(maker: Client, world: World) -> None:
    world.batch(position=world.position(world.rack("North wall")), bars=24)
    words = words_of(maker.get(reverse("web:batch_new")))
    assert 0 < words.index("North wall, level 2, place 2 (24 free)") < words.index("North wall, level 1, place 1 (full)")
