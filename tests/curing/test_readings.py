"""Weighings as rows: what is refused, what a doubt keeps, where a weighing stands."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.ledger import LedgerError
from curehouse.curing.models import Reading
from curehouse.curing.services.bars import end_sample_bar
from curehouse.curing.services.readings import correct_reading, record_reading, review_reading
from curehouse.making.models import Batch
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(world: World) -> Batch:
    """Return a batch whose bars A, B and C differ by a gram and were weighed until last week."""
    batch = world.batch(cut_days_ago=28)
    for day, weight in {0: 130, 7: 125, 14: 123, 21: 122}.items():
        for letter, more in (("A", 0), ("B", 4), ("C", 8)):
            moment = world.days_ago(28 - day)
            world.weigh(world.bar(batch, letter), f"{weight + more}.0", moment=moment)
    return batch


def standing(world: World, reading: Reading) -> str:
    return Reading.objects.within(world.workshop).with_standing().get(pk=reading.pk).standing


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"weight_g": Decimal(0)}, "weight", "weight"),
        ({"weight_g": Decimal(-1)}, "weight", "weight"),
        ({"weight_g": Decimal("20000.001")}, "weight", "weight"),
        ({"firmness": "hard"}, "firmness", "firmness"),
        ({"dent_mm": Decimal("1.5")}, "dent_tool", "dent_tool"),
        ({"dent_mm": Decimal("-0.1"), "dent_tool": "needle"}, "dent_tool", "dent_tool"),
    ],
)
def test_weighing_that_cannot_be_is_refused_by_the_field_it_is_about(
    world: World, batch: Batch, changes: dict[str, object], code: str, field: str
) -> None:
    entry = replace(world.reading_entry("120.8", moment=world.now), **changes)
    with pytest.raises(Invalid) as refused:
        record_reading(actor=world.actor, bar=world.bar(batch), entry=entry, doubt=None, at=world.now)
    assert (refused.value.code, refused.value.field) == (code, field)
    assert not Reading.objects.within(world.workshop).filter(client_id=entry.client_id).exists()


@pytest.mark.parametrize(("ahead", "is_written"), [(timedelta(minutes=4), True), (timedelta(minutes=6), False)])
def test_moment_may_run_ahead_of_the_house_by_a_clocks_difference_only(
    world: World, batch: Batch, ahead: timedelta, *, is_written: bool
) -> None:
    entry = world.reading_entry("120.8", moment=world.now + ahead)
    try:
        record_reading(actor=world.actor, bar=world.bar(batch), entry=entry, doubt=None, at=world.now)
    except Invalid as refused:
        assert refused.code == "future"
    assert Reading.objects.within(world.workshop).filter(client_id=entry.client_id).exists() is is_written


def test_weighing_before_the_day_of_the_cut_is_refused_and_on_it_written(world: World, batch: Batch) -> None:
    bar = world.bar(batch)
    on_the_day = world.reading_entry("131.0", moment=batch.cut_at - timedelta(hours=2))
    record_reading(actor=world.actor, bar=bar, entry=on_the_day, doubt=None, at=world.now)
    with pytest.raises(Invalid, match="cannot come before it"):
        too_early = world.reading_entry("131.0", moment=batch.cut_at - timedelta(days=1))
        record_reading(actor=world.actor, bar=bar, entry=too_early, doubt=None, at=world.now)


def test_weighing_of_a_batch_that_is_not_cut_is_refused(world: World, batch: Batch) -> None:
    poured = world.batch(cut_days_ago=None)
    bar = world.bar(batch)
    bar.batch = poured
    with pytest.raises(Conflict, match="is not cut yet"):
        record_reading(
            actor=world.actor, bar=bar, entry=world.reading_entry("120.8", moment=world.now), doubt=None, at=world.now
        )


@pytest.mark.parametrize(
    ("typed", "kind", "guess", "question"),
    [
        ("112.0", "swapped_digits", "121.0", "Digits swapped?"),
        ("12.1", "decimal_slip", "121", "Decimal point in the wrong place?"),
        ("1210", "decimal_slip", "121", "Decimal point in the wrong place?"),
        ("125.5", "neighbour", None, "Is it bar B?"),
        ("140.0", "too_heavy", None, "Wrong bar, or something else on the scale?"),
        ("100.0", "too_light", None, "Wrong bar, or has a piece come off?"),
    ],
)
def test_doubtful_weight_keeps_what_it_probably_is(
    world: World, batch: Batch, typed: str, kind: str, guess: str | None, question: str
) -> None:
    reading = world.weigh(world.bar(batch), typed, moment=world.now)
    assert (reading.doubt, reading.doubt_detail["question"]) == (kind, question)
    assert reading.doubt_guess_g == (None if guess is None else Decimal(guess))
    assert standing(world, reading) == "asked"


def test_plausible_weight_raises_no_doubt(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "121.2", moment=world.now)
    assert (reading.doubt, standing(world, reading)) == ("", "counts")


def test_weighing_stands_where_its_newest_review_puts_it(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "112.0", moment=world.now)
    seen = [standing(world, reading)]
    for decision, reason in (("kept", ""), ("struck", "wrong batch"), ("kept", "")):
        review_reading(actor=world.actor, reading=reading, decision=decision, reason=reason, at=world.now)
        seen.append(standing(world, reading))
    assert seen == ["asked", "counts", "struck", "counts"]


def test_correction_leaves_the_old_row_as_it_was_written(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "112.0", moment=world.now)
    entry = world.reading_entry("121.0", moment=world.now)
    newer = correct_reading(actor=world.actor, reading=reading, entry=entry, doubt=None, at=world.now)
    old = Reading.objects.within(world.workshop).get(pk=reading.pk)
    assert (old.weight_g, old.doubt, standing(world, old)) == (Decimal("112.000"), "swapped_digits", "corrected")
    assert standing(world, newer) == "counts"


def test_written_weighing_can_be_neither_changed_nor_deleted(world: World, batch: Batch) -> None:
    reading = world.weigh(world.bar(batch), "121.2", moment=world.now)
    reading.weight_g = Decimal("100.0")
    for change in (reading.save, reading.delete, Reading.objects.within(world.workshop).delete):
        with pytest.raises(LedgerError):
            change()
    assert Reading.objects.within(world.workshop).get(pk=reading.pk).weight_g == Decimal("121.200")


@pytest.mark.parametrize(("why", "code"), [("  ", "missing"), ("sold early", None)])
def test_bar_is_ended_with_a_reason_and_once(world: World, batch: Batch, why: str, code: str | None) -> None:
    bar = world.bar(batch)
    if code is None:
        end_sample_bar(bar=bar, why=why, at=world.now)
        code = "bar_ended"
    with pytest.raises((Invalid, Conflict)) as refused:
        end_sample_bar(bar=bar, why=why, at=world.now)
    assert refused.value.code == code


def test_a_bar_that_is_gone_is_weighed_no_more_but_an_earlier_weighing_may_still_come_in(world: World) -> None:
    batch = world.batch(cut_days_ago=20)
    bar = world.bar(batch)
    end_sample_bar(bar=bar, why="sold early", at=world.days_ago(2))
    gone = world.bar(batch)
    with pytest.raises(Conflict, match="sold early"):
        world.weigh(gone, "118.6", moment=world.days_ago(1))
    assert world.weigh(gone, "118.6", moment=world.days_ago(3)).weight_g == Decimal("118.6")
