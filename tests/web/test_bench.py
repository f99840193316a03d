"""The Bench's list: what stands first, finding again, pages, and what it costs."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.making.models import Batch
from tests.web.on_round import set_clock
from tests.web.reading_pages import words_of
from tests.web.visitor import ready_batch
from tests.world import World

PAGE = "/bench/"


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


def close(batch: Batch) -> None:
    Batch.unscoped.filter(pk=batch.pk).update(state=Batch.State.CLOSED, bars_left=0)


def test_an_empty_bench_says_what_to_do(maker: Client) -> None:
    words = words_of(maker.get(PAGE))
    assert "No batch yet" in words
    assert "Enter a batch" in words


def test_a_batch_is_shown_with_its_state_its_days_and_its_bars(maker: Client, world: World) -> None:
    batch = world.batch(cut_days_ago=30)
    page = maker.get(PAGE)
    assert "Goat & oat 1 poured Sat 7 Feb, cut Sun 8 Feb ◷ curing 24 of 24 bars" in words_of(page)
    assert f'href="{reverse("web:batch", args=[batch.pk])}"' in page.content.decode()


def test_a_batch_that_is_ready_says_so(maker: Client, world: World) -> None:
    ready_batch(world)
    assert "✓ ready" in words_of(maker.get(PAGE))


def test_a_poured_batch_offers_its_cut(maker: Client, world: World) -> None:
    poured = world.batch(cut_days_ago=None)
    page = maker.get(PAGE)
    assert "▽ poured Cut it" in words_of(page)
    assert f'href="{reverse("web:batch_cut", args=[poured.pk])}"' in page.content.decode()


def test_batches_that_still_stand_come_before_newer_ones_that_are_gone(maker: Client, world: World) -> None:
    world.batch(cut_days_ago=60, formula_name="Old and standing")
    close(world.batch(cut_days_ago=2, formula_name="New and gone"))
    world.batch(cut_days_ago=5, formula_name="New and standing")
    words = words_of(maker.get(PAGE)).split("Batches", 1)[1]
    names = ("New and standing 3", "Old and standing 1", "New and gone 2")
    assert sorted(names, key=words.index) == list(names)
    assert "– closed" in words


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("goat", {"Goat & oat 1", "Goat & oat 2"}),
        ("oat 2", {"Goat & oat 2"}),
        ("2", {"Goat & oat 2"}),
        ("calen", {"Calendula 100 3"}),
        ("100", {"Calendula 100 3"}),
        ("9" * 60, set()),
        ("%", set()),
        ("\x00", {"Goat & oat 1", "Goat & oat 2", "Calendula 100 3"}),
    ],
)
def test_a_batch_is_found_by_its_formula_or_number(maker: Client, world: World, search: str, found: set[str]) -> None:
    for name in ("Goat & oat", "Goat & oat", "Calendula 100"):
        world.batch(formula_name=name)
    words = words_of(maker.get(PAGE, {"q": search})).split("Batches", 1)[1]
    assert {name for name in ("Goat & oat 1", "Goat & oat 2", "Calendula 100 3") if f"{name} poured" in words} == found
    assert ("Nothing called" in words) == (not found)


def test_the_bench_turns_pages_and_keeps_the_search(maker: Client, world: World) -> None:
    for _ in range(27):
        world.batch()
    first = maker.get(PAGE, {"q": "oat"})
    assert words_of(first).count("poured Sat 7 Feb") == 25
    assert 'href="?q=oat&amp;page=2"' in first.content.decode()
    assert "2 of 2" in words_of(maker.get(PAGE, {"page": "2"}))
    for odd in ("0", "99", "two", "9" * 50):
        assert maker.get(PAGE, {"page": odd}).status_code == 200


def test_the_bench_shows_nothing_of_a_stranger(maker: Client, stranger: World) -> None:
    stranger.batch(formula_name="Their secret")
    words = words_of(maker.get(PAGE))
    assert "Their secret" not in words
    assert "No batch yet" in words


def test_the_bench_takes_the_same_queries_with_two_batches_and_with_twenty(maker: Client, world: World) -> None:
    def fill(numbers: range) -> int:
        for number in numbers:
            world.batch(formula_name=f"Formula {number}", cut_days_ago=None if number % 4 == 1 else 20)
        with CaptureQueriesContext(connection) as captured:
            maker.get(PAGE)
        return len(captured)

    few = fill(range(2))
    # Session, person, membership, open notices; the batches' number, one page of them, the last of each formula, pours.
    assert few == 8
    assert fill(range(2, 20)) == few
