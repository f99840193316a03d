"""A doubtful weight on the round: written at once, asked about at once, answered with one press."""

from decimal import Decimal

import pytest
from django.urls import reverse

from curehouse.curing.models import Reading, ReadingReview
from curehouse.flows.foretell import foretell_wanting
from curehouse.making.models import Batch
from tests.web.on_round import Walker, bar_url, set_clock, text_of
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch, world: World) -> None:
    set_clock(monkeypatch, world.now)


@pytest.fixture
def batch(world: World) -> Batch:
    """Return a batch that was weighed last week and is due today."""
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0", 21: "121.6"})
    return batch


@pytest.fixture
def walker(world: World) -> Walker:
    return Walker(world)


@pytest.fixture
def doubted(world: World, batch: Batch, walker: Walker) -> Reading:
    """Return a weighing with its digits swapped: 102.8 for 120.8."""
    assert walker.type(world.bar(batch), "102.8", firmness="firm").url == bar_url(world.bar(batch))
    (reading,) = walker.readings(world.bar(batch))
    return reading


def standing(walker: Walker, reading: Reading) -> list[tuple[str, str]]:
    return [(f"{row.weight_g:.1f}", row.standing) for row in walker.readings(reading.bar)]


def test_doubtful_weight_is_written_and_asked_about_with_what_would_fit(walker: Walker, doubted: Reading) -> None:
    words = text_of(walker.get(doubted.bar))
    assert standing(walker, doubted) == [("102.8", "asked")]
    assert "g lighter than expected. Digits swapped? 120.8 g would fit." in words
    assert "Keep 102.8 g" in words
    assert "Take 120.8 g" in words
    assert "Weigh again" in words


def test_taking_the_guess_writes_a_correction_and_goes_on(world: World, walker: Walker, doubted: Reading) -> None:
    answer = walker.answer("reading_take", doubted)
    newest = walker.readings(doubted.bar)[-1]
    assert answer.url == bar_url(world.bar(doubted.bar.batch, "B"), f"?after={newest.pk}")
    assert standing(walker, doubted) == [("102.8", "corrected"), ("120.8", "counts")]
    assert (newest.corrects, newest.moment, newest.firmness) == (doubted, doubted.moment, "firm")
    assert newest.client_id != doubted.client_id


def test_guess_is_taken_once_when_the_button_is_pressed_twice(walker: Walker, doubted: Reading) -> None:
    key = "5f4c0c3a-6a57-4c63-8f0a-0d6a3a3c2b01"
    first, second = (walker.answer("reading_take", doubted, client_id=key) for _ in range(2))
    assert first.url == second.url
    assert standing(walker, doubted) == [("102.8", "corrected"), ("120.8", "counts")]


def test_keeping_lets_the_weight_count(walker: Walker, doubted: Reading) -> None:
    key = "5f4c0c3a-6a57-4c63-8f0a-0d6a3a3c2b02"
    for _ in range(2):
        assert "after=" in walker.answer("reading_keep", doubted, form_key=key, client_id=key).url
    assert standing(walker, doubted) == [("102.8", "counts")]
    assert ReadingReview.objects.within(walker.world.workshop).count() == 1


def test_weighing_again_writes_the_new_weight_in_place_of_the_doubtful_one(walker: Walker, doubted: Reading) -> None:
    walker.type(doubted.bar, "120.6", again=str(doubted.pk), seen=str(doubted.pk))
    assert standing(walker, doubted) == [("102.8", "corrected"), ("120.6", "counts")]
    assert walker.readings(doubted.bar)[-1].firmness == "firm"


def test_weighing_again_is_asked_about_in_its_turn(walker: Walker, doubted: Reading) -> None:
    answer = walker.type(doubted.bar, "150.2", again=str(doubted.pk))
    assert answer.url == bar_url(doubted.bar)
    assert standing(walker, doubted) == [("102.8", "corrected"), ("150.2", "asked")]
    assert "heavier than expected." in text_of(walker.get(doubted.bar))


def test_range_beside_the_question_is_the_one_that_asked_also_at_the_second_look(
    world: World, batch: Batch, walker: Walker
) -> None:
    bar, again = world.bar(batch), {}
    for typed in ("131.2", "129.4"):
        foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
        walker.type(bar, typed, **again)
        reading = walker.readings(bar)[-1]
        asked_by = "expected {expected_low_g:.1f}–{expected_high_g:.1f} g".format(**reading.doubt_detail)
        assert asked_by in text_of(walker.get(bar))
        # A forecast that has heard the doubtful weight expects another one; that is not what asked.
        foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
        assert asked_by in text_of(walker.get(bar))
        again = {"again": str(reading.pk)}


def test_the_same_weight_again_is_no_answer(walker: Walker, doubted: Reading) -> None:
    answer = walker.type(doubted.bar, "102.8", again=str(doubted.pk))
    assert "That is the same weight again: keep it, or type what the scale shows now." in text_of(answer)
    assert standing(walker, doubted) == [("102.8", "asked")]


def test_question_stays_open_when_the_round_goes_on(world: World, walker: Walker, doubted: Reading) -> None:
    page = walker.get(doubted.bar).content.decode()
    assert f'href="{bar_url(world.bar(doubted.bar.batch, "B"))}">Answer later</a>' in page
    assert standing(walker, doubted) == [("102.8", "asked")]


def test_question_of_last_week_is_shown_beside_the_bar(world: World, walker: Walker) -> None:
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0"})
    asked = world.weigh(world.bar(batch), "112.6", moment=world.days_ago(7))
    assert asked.doubt
    words = text_of(walker.get(world.bar(batch)))
    assert "Tue 3 Mar, 10:00: 112.6 g is still in doubt. Answer" in words


def test_guess_is_taken_to_the_milligram_when_ounces_are_shown() -> None:
    world = World(unit="oz", email="wren@thistlewick.example")
    batch = world.batch(cut_days_ago=28)
    for day, ounces in {0: "4.59", 7: "4.41", 14: "4.34", 21: "4.29"}.items():
        grams = Decimal(ounces) * Decimal("28.349523125")
        for letter in "ABC":
            world.weigh(world.bar(batch, letter), f"{grams:.3f}", moment=world.days_ago(28 - day), unit="oz", typed=ounces)
    walker = Walker(world)
    walker.type(world.bar(batch), "2,46")
    (reading,) = walker.readings(world.bar(batch))
    words = text_of(walker.get(world.bar(batch)))
    assert "oz lighter than expected. Digits swapped? 4.26 oz would fit." in words
    assert "Keep 2.46" in words
    walker.answer("reading_take", reading)
    # 4.26 oz by the international ounce of 28.349523125 g (NIST Handbook 44, Appendix C).
    assert walker.readings(world.bar(batch))[-1].weight_g == Decimal("120.769")


def test_taking_is_refused_where_nothing_was_guessed(world: World, batch: Batch, walker: Walker) -> None:
    walker.type(world.bar(batch), "118.9")
    (reading,) = walker.readings(world.bar(batch))
    answer = walker.answer("reading_take", reading)
    assert answer.status_code == 409
    assert "There is no weight to take here" in text_of(answer)


@pytest.mark.parametrize("name", ["reading_take", "reading_keep", "reading_strike"])
def test_answers_are_never_given_by_looking(walker: Walker, doubted: Reading, name: str) -> None:
    assert walker.client.get(reverse(f"web:{name}", args=[doubted.pk])).status_code == 405


@pytest.mark.parametrize("name", ["reading_correct", "reading_take", "reading_keep", "reading_strike"])
def test_weighing_of_the_house_next_door_is_not_found(walker: Walker, stranger: World, name: str) -> None:
    theirs = stranger.weigh(stranger.bar(stranger.batch(cut_days_ago=0.05)), "120.0", moment=stranger.now)
    assert walker.answer(name, theirs, weight="119.0", reason="mine").status_code == 404
    assert Reading.objects.within(stranger.workshop).count() == 1
