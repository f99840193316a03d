"""The page of one weighing: put right, struck out, or left alone."""

import pytest
from django.urls import reverse

from curehouse.curing.models import Reading
from curehouse.curing.services.cures import lock_cure
from curehouse.flows.weigh import correct
from curehouse.making.models import Batch
from tests.web.on_round import Walker, bar_url, set_clock, text_of
from tests.world import World

pytestmark = pytest.mark.django_db
KEY = "5f4c0c3a-6a57-4c63-8f0a-0d6a3a3c2b04"


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch, world: World) -> None:
    set_clock(monkeypatch, world.now)


@pytest.fixture
def batch(world: World) -> Batch:
    batch = world.batch(cut_days_ago=28)
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "123.0"})
    return batch


@pytest.fixture
def reading(world: World, batch: Batch) -> Reading:
    """Return last week's weighing of bar A."""
    return world.weigh(world.bar(batch), "121.6", moment=world.days_ago(7))


@pytest.fixture
def walker(world: World) -> Walker:
    return Walker(world)


def on_record(reading: Reading) -> list[tuple[str, str]]:
    rows = Reading.objects.within(reading.workshop).filter(bar=reading.bar, moment=reading.moment).with_standing()
    return [(f"{row.weight_g:.1f}", row.standing) for row in rows.order_by("pk")]


def test_page_says_what_was_weighed_when_by_whom_and_on_which_scale(walker: Walker, reading: Reading) -> None:
    words = text_of(walker.client.get(reverse("web:reading_correct", args=[reading.pk])))
    assert "Goat & oat 1, bar A 121.6 g Tue 3 Mar, 10:00, by Ottilie Brandt on Kitchen scale" in words


def test_weight_put_right_is_a_new_row_at_the_same_moment(walker: Walker, reading: Reading) -> None:
    answer = walker.answer("reading_correct", reading, "", weight="121,4")
    assert answer.url == reverse("web:batch", args=[reading.bar.batch_id])
    assert on_record(reading) == [("121.6", "corrected"), ("121.4", "counts")]
    page = walker.client.get(reverse("web:reading_correct", args=[reading.pk]))
    assert "Corrected to 121.4 g. This row stays on record and does not count." in text_of(page)


def test_change_on_the_round_leads_on_with_the_round(world: World, walker: Walker, batch: Batch) -> None:
    walker.type(world.bar(batch), "120.4")
    (written,) = walker.readings(world.bar(batch))
    answer = walker.answer("reading_correct", written, "?round=1", weight="120.3")
    newest = walker.readings(world.bar(batch))[-1]
    assert answer.url == bar_url(world.bar(batch, "B"), f"?after={newest.pk}")


def test_correction_is_written_once_though_sent_twice(walker: Walker, reading: Reading) -> None:
    for _ in range(2):
        assert walker.answer("reading_correct", reading, "", weight="121.4", client_id=KEY).status_code == 302
    assert on_record(reading) == [("121.6", "corrected"), ("121.4", "counts")]


def test_doubtful_correction_is_asked_about_at_once(walker: Walker, reading: Reading) -> None:
    answer = walker.answer("reading_correct", reading, "", weight="112.4")
    newest = Reading.objects.within(reading.workshop).order_by("pk").last()
    assert answer.url == reverse("web:reading_correct", args=[newest.pk])
    assert "Digits swapped? 121.4 g would fit." in text_of(walker.client.get(answer.url))
    assert on_record(reading) == [("121.6", "corrected"), ("112.4", "asked")]


@pytest.mark.parametrize(
    ("typed", "remedy"),
    [
        ("121.6", "That is the weight on record: type another one, or leave it as it is."),
        ("121,60", "That is the weight on record: type another one, or leave it as it is."),
        ("", "The weight is missing: type it in figures."),
        ("12,3,4", "The weight reads “12,3,4”: type figures with one point or comma, like 118.6."),
    ],
)
def test_correction_that_corrects_nothing_is_refused(walker: Walker, reading: Reading, typed: str, remedy: str) -> None:
    answer = walker.answer("reading_correct", reading, "", weight=typed)
    assert remedy in text_of(answer)
    assert on_record(reading) == [("121.6", "counts")]


def test_weighing_corrected_meanwhile_is_not_corrected_again(world: World, walker: Walker, reading: Reading) -> None:
    entry = world.reading_entry("121.4", moment=reading.moment)
    correct(actor=world.actor, reading=reading, entry=entry, at=world.now)
    answer = walker.answer("reading_correct", reading, "", weight="121.3")
    assert "This weighing was corrected already: correct the newer one." in text_of(answer)
    assert walker.answer("reading_keep", reading, "").status_code == 409
    assert on_record(reading) == [("121.6", "corrected"), ("121.4", "counts")]


def test_weighing_is_struck_out_with_a_reason_and_the_batch_is_judged_anew(
    world: World, walker: Walker, reading: Reading
) -> None:
    answer = walker.answer("reading_strike", reading, "", reason="wrong batch on the scale")
    assert answer.url == reverse("web:batch", args=[reading.bar.batch_id])
    assert on_record(reading) == [("121.6", "struck")]
    page = walker.client.get(reverse("web:reading_correct", args=[reading.pk]))
    assert "Struck out: wrong batch on the scale. It stays on record and does not count." in text_of(page)
    assert lock_cure(workshop=world.workshop, batch_id=reading.bar.batch_id).assess_wanted_at == world.now


def test_striking_out_without_a_reason_is_refused(walker: Walker, reading: Reading) -> None:
    answer = walker.answer("reading_strike", reading, "", reason=" ")
    assert "The reason is missing: type it." in text_of(answer)
    assert on_record(reading) == [("121.6", "counts")]


def test_struck_weighing_is_put_right_with_a_new_weight(walker: Walker, reading: Reading) -> None:
    walker.answer("reading_strike", reading, "", reason="wrong batch on the scale")
    walker.answer("reading_correct", reading, "", weight="121.4")
    assert on_record(reading) == [("121.6", "corrected"), ("121.4", "counts")]
