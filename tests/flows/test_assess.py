"""What the house makes of a batch, as of each weighing and each morning, and whom it tells."""

from datetime import timedelta

import pytest

from curehouse.curing.models import Assessment, Cure
from curehouse.flows.assess import assess_all_this_morning, assess_batch, assess_this_morning
from curehouse.flows.check import check
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import correct, keep, strike
from curehouse.making.models import Batch, Formula
from curehouse.making.services import TakeOutEntry
from curehouse.notices.models import Notice
from curehouse.workshops.services import change_preferences
from tests.world import World

# 120.4 a week before 120.0 is a loss of 0.33 % a week: dry enough at the default 0.75 %.
DRY = {0: "130.0", 8: "123.5", 15: "121.2", 22: "120.4", 29: "120.0"}
# 121.5 a week before 120.0 is 1.25 % a week.
WET = {0: "130.0", 8: "125.0", 15: "123.0", 22: "121.5", 29: "120.0"}


def settle(world: World, batch: Batch, *, days_later: float = 0) -> Cure:
    """Let the house answer the news; return where the cure stands."""
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now + timedelta(days=days_later))
    return cure_of(world, batch)


def cure_of(world: World, batch: Batch) -> Cure:
    return Cure.objects.within(world.workshop).select_related("assessment").get(batch=batch)


def look(world: World, batch: Batch, *, days_later: float) -> Cure:
    """Let a morning so many days later pass."""
    assess_this_morning(workshop=world.workshop, batch_id=batch.pk, at=world.now + timedelta(days=days_later))
    return cure_of(world, batch)


def checked(world: World, batch: Batch, *, passed: bool, days_ago: float = 0) -> None:
    if not world.workshop.check_limit:
        change_preferences(workshop=world.workshop, changes={"check_limit": "no darker than square 9"})
    check(
        actor=world.actor, batch=batch, method="pH strip", value="square 8", passed=passed, note="",
        checked_at=world.days_ago(days_ago), at=world.now,
    )  # fmt: skip


def told(world: World) -> list[tuple[str, str]]:
    return list(Notice.objects.within(world.workshop).order_by("pk").values_list("kind", "state"))


def said(world: World, batch: Batch) -> list[Assessment]:
    return list(Assessment.objects.within(world.workshop).filter(batch=batch).order_by("moment", "pk"))


def weighed(world: World, weights: dict[int, str], **batch: object) -> Batch:
    row = world.batch(**batch)
    world.weigh_series(row, weights)
    return row


def test_every_weighing_has_a_verdict_as_of_its_own_moment(world: World) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    rows = said(world, batch)
    assert [row.cause for row in rows] == ["reading"] * 15
    assert [row.moment for row in rows] == [row.reading.moment for row in rows]
    of_bar_c = rows[2::3]
    assert [row.age_days for row in of_bar_c] == [0, 8, 15, 22, 29]
    assert [row.state for row in of_bar_c] == ["curing"] * 4 + ["check_due"]
    # By hand, all bars alike: 100 x (130 - 120) / 130, and 100 x (120.4 - 120.0) / 120.0.
    assert of_bar_c[-1].total_loss_pct == pytest.approx(7.6923, abs=1e-4)
    assert of_bar_c[-1].weekly_loss_pct == pytest.approx(0.3333, abs=1e-4)
    assert of_bar_c[0].weekly_loss_pct is None


def test_news_is_answered_once(world: World) -> None:
    batch = weighed(world, DRY)
    assert settle(world, batch).assess_wanted_at is None
    assert assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now) is None
    assert len(said(world, batch)) == 15
    assert told(world) == [("check_due", "open")]


def test_nothing_is_made_of_a_batch_that_is_gone_or_a_strangers(world: World, stranger: World) -> None:
    batch = weighed(world, DRY)
    assert assess_batch(workshop_id=world.workshop.pk, batch_id=0, at=world.now) is None
    assert assess_batch(workshop_id=0, batch_id=batch.pk, at=world.now) is None
    assert assess_batch(workshop_id=stranger.workshop.pk, batch_id=batch.pk, at=world.now) is None
    assert said(world, batch) == []


def test_a_passed_check_makes_a_dry_batch_ready_and_takes_the_earlier_notice_back(world: World) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    checked(world, batch, passed=True)
    assert settle(world, batch).state == "ready"
    assert said(world, batch)[-1].cause == "check"
    assert told(world) == [("check_due", "withdrawn"), ("ready", "open")]
    taken_back = Notice.objects.within(world.workshop).get(kind="check_due")
    assert "ready" in taken_back.closed_why


def test_a_check_that_waits_with_a_weighing_of_the_same_moment_counts_in_its_verdict(world: World) -> None:
    batch = weighed(world, DRY)
    moment = batch.cut_at + timedelta(days=29, hours=1)
    change_preferences(workshop=world.workshop, changes={"check_limit": "no darker than square 9"})
    check(
        actor=world.actor, batch=batch, method="pH strip", value="square 8", passed=True, note="",
        checked_at=moment, at=world.now,
    )  # fmt: skip
    assert settle(world, batch).state == "ready"
    assert told(world) == [("ready", "open")]
    assert {row.cause for row in said(world, batch)} == {"reading"}


def test_a_check_of_a_batch_never_weighed_is_answered_as_a_check(world: World) -> None:
    batch = world.batch(cut_days_ago=3)
    checked(world, batch, passed=True, days_ago=1)
    cure = settle(world, batch, days_later=1)
    assert (cure.state, cure.assessment.cause) == ("curing", "check")


def test_a_check_made_earlier_than_the_last_weighing_still_counts(world: World) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    checked(world, batch, passed=True, days_ago=20)
    cure = settle(world, batch)
    assert (cure.state, cure.assessment.cause) == ("ready", "check")
    assert cure.assessment.moment == batch.cut_at + timedelta(days=29, hours=1)


def test_a_failed_check_is_never_ready_however_dry_and_old(world: World) -> None:
    batch = weighed(world, DRY)
    checked(world, batch, passed=True, days_ago=3)
    assert settle(world, batch).state == "ready"
    checked(world, batch, passed=False)
    assert settle(world, batch).state == "check_due"
    assert look(world, batch, days_later=1).state == "check_due"
    assert "check_failed" in [reason["code"] for reason in cure_of(world, batch).assessment.reasons]
    assert told(world) == [("ready", "withdrawn"), ("check_failed", "open")]


def test_a_check_that_fails_is_told_in_place_of_the_one_that_was_due(world: World) -> None:
    batch = weighed(world, DRY)
    assert settle(world, batch).shown_as == "check_due"
    checked(world, batch, passed=False)
    cure = settle(world, batch)
    assert (cure.state, cure.shown_as) == ("check_due", "check_failed")
    titles = [(notice.title, notice.mark) for notice in Notice.objects.within(world.workshop).open()]
    assert titles == [(f"{batch}: its safety check failed", "check_failed")]


def test_a_state_that_comes_back_is_told_again(world: World) -> None:
    batch = weighed(world, DRY)
    for passed in (True, False, True):
        checked(world, batch, passed=passed)
        settle(world, batch)
    assert told(world) == [("ready", "withdrawn"), ("check_failed", "done"), ("ready", "open")]


def test_a_late_weighing_is_assessed_as_of_its_moment_and_the_batch_as_it_stands(world: World) -> None:
    batch = weighed(world, {0: "130.0", 8: "123.5", 15: "121.2", 29: "120.0"})
    before = settle(world, batch)
    # The weighings around day 22 are 14 days apart: no weekly loss.
    assert (before.state, before.assessment.weekly_loss_pct) == ("curing", None)
    for letter in "ABC":
        world.weigh(world.bar(batch, letter), "120.4", moment=batch.cut_at + timedelta(days=22, hours=1))
    cure = settle(world, batch)
    rows = said(world, batch)
    assert [row.age_days for row in rows if row.cause == "reading"] == [0] * 3 + [8] * 3 + [15] * 3 + [22] * 3 + [29] * 3
    assert (cure.state, cure.assessment.cause) == ("check_due", "review")
    assert cure.assessment.moment == batch.cut_at + timedelta(days=29, hours=1)
    assert cure.assessment.weekly_loss_pct == pytest.approx(0.3333, abs=1e-4)


def test_a_morning_looks_once_however_often_it_is_asked(world: World) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    for _ in range(3):
        look(world, batch, days_later=1)
    mornings = [row for row in said(world, batch) if row.cause == "morning"]
    assert len(mornings) == 1
    # 06:30 in Berlin in March is 05:30 by UTC.
    assert mornings[0].moment == (world.now + timedelta(days=1)).replace(hour=5, minute=30)


def test_a_morning_answers_the_news_that_waits_and_looks_besides(world: World) -> None:
    batch = weighed(world, DRY)
    cure = look(world, batch, days_later=1)
    assert cure.assess_wanted_at is None
    assert [row.cause for row in said(world, batch)] == ["reading"] * 15 + ["morning"]


def test_a_weighing_after_the_morning_outranks_a_morning_that_comes_late(world: World) -> None:
    batch = weighed(world, DRY)
    for letter in "ABC":
        world.weigh(world.bar(batch, letter), "119.9", moment=world.now)
    cure = look(world, batch, days_later=0.01)
    assert cure.assessment.cause == "reading"
    assert cure.assessment.moment == world.now


def test_a_batch_turns_old_enough_by_a_morning_alone_on_its_local_day(world: World) -> None:
    # Cut on 11 February at 22:00 in Berlin: 10 March is its day 27, and 11 March its day 28.
    batch = weighed(world, {0: "130.0", 12: "121.0", 19: "120.4", 26: "120.0"}, cut_days_ago=26.5)
    assert settle(world, batch).state == "curing"
    assert look(world, batch, days_later=0).assessment.age_days == 27
    assert look(world, batch, days_later=1).state == "check_due"


@pytest.mark.parametrize(("days_later", "state"), [(12, "check_due"), (13, "not_weighed")])
def test_a_batch_not_weighed_for_fourteen_days_says_so_instead_of_a_verdict(world: World, days_later: int, state: str) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    # The last weighing lies a day back already.
    cure = look(world, batch, days_later=days_later)
    assert cure.state == state
    if state == "not_weighed":
        assert cure.assessment.reasons[0]["text"] == "Not weighed since day\u00a029, 14\u00a0days ago."
        assert told(world) == [("check_due", "withdrawn")]


def test_a_batch_still_losing_after_its_latest_day_is_too_soft(world: World) -> None:
    weights = {0: "150.0", 36: "126.0", 43: "124.0", 50: "122.0", 57: "120.0"}
    batch = weighed(world, weights, cut_days_ago=58)
    assert settle(world, batch).state == "too_soft"
    assert told(world) == [("too_soft", "open")]


def test_a_formulas_own_minimum_beats_the_workshops(world: World) -> None:
    batch = weighed(world, DRY)
    Formula.objects.within(world.workshop).filter(pk=batch.formula_id).update(min_days=40)
    cure = settle(world, batch)
    assert (cure.state, cure.assessment.figures["days_to_min"]) == ("curing", 11)


def test_a_formulas_minimum_past_the_workshops_latest_day_is_the_latest_day_itself(world: World) -> None:
    batch = weighed(world, {0: "150.0", 36: "126.0", 43: "124.0", 50: "122.0", 57: "120.0"}, cut_days_ago=58)
    Formula.objects.within(world.workshop).filter(pk=batch.formula_id).update(min_days=90)
    assert settle(world, batch).state == "curing"


def test_a_batch_that_left_is_assessed_no_more(world: World) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    entry = TakeOutEntry(bars=24, purpose="sale", taken_at=world.now, forced_reason="a fair")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    rows = len(said(world, batch))
    assert look(world, batch, days_later=1).ended_at == world.now
    assert assess_all_this_morning(workshop=world.workshop, at=world.now) == 0
    assert len(said(world, batch)) == rows


def doubtful(world: World, batch: Batch, weight_g: str, *, letter: str = "A"):
    row = world.weigh(world.bar(batch, letter), weight_g, moment=world.now)
    assert row.doubt
    return row


def a_batch_of_one_bar(world: World, weights: dict[int, str]) -> Batch:
    batch = world.batch(sample_bars=1)
    world.weigh_series(batch, weights, letters="A")
    return batch


def test_a_doubtful_weight_that_would_make_it_worse_is_looked_at_again(world: World) -> None:
    batch = a_batch_of_one_bar(world, DRY)
    assert settle(world, batch).state == "check_due"
    doubtful(world, batch, "110.0")
    cure = settle(world, batch)
    figures = cure.assessment.figures
    assert (cure.state, figures["state_without_doubtful"], figures["state_with_doubtful"]) == (
        "look_again", "check_due", "curing",
    )  # fmt: skip
    assert told(world) == [("check_due", "withdrawn"), ("look_again", "open")]


def test_a_doubtful_weight_that_would_make_it_better_is_looked_at_again(world: World) -> None:
    batch = a_batch_of_one_bar(world, WET)
    assert settle(world, batch).state == "curing"
    doubtful(world, batch, "129.0")
    cure = settle(world, batch)
    assert (cure.state, cure.assessment.figures["state_with_doubtful"]) == ("look_again", "check_due")


def test_a_doubtful_weight_that_changes_no_verdict_is_left_out_quietly(world: World) -> None:
    batch = a_batch_of_one_bar(world, {0: "130.0", 8: "125.0"})
    doubtful(world, batch, "13.0")
    assert settle(world, batch).state in {"curing", "not_weighed"}
    assert told(world) == []


def test_a_doubt_that_is_kept_counts_from_then_on(world: World) -> None:
    batch = a_batch_of_one_bar(world, DRY)
    reading = doubtful(world, batch, "110.0")
    settle(world, batch)
    keep(actor=world.actor, reading=reading, at=world.now)
    cure = settle(world, batch)
    assert (cure.state, cure.assessment.cause) == ("curing", "review")
    assert cure.assessment.total_loss_pct == pytest.approx(100 * 20 / 130)


def test_a_doubt_that_is_struck_out_counts_no_more_and_the_verdict_stands(world: World) -> None:
    batch = a_batch_of_one_bar(world, DRY)
    reading = doubtful(world, batch, "110.0")
    settle(world, batch)
    strike(actor=world.actor, reading=reading, reason="wrong batch", at=world.now)
    cure = settle(world, batch)
    assert (cure.state, cure.assessment.figures["state_with_doubtful"]) == ("check_due", "check_due")
    assert cure.last_weighed_at == batch.cut_at + timedelta(days=29, hours=1)


def test_a_doubt_that_is_corrected_counts_by_its_correction(world: World) -> None:
    batch = a_batch_of_one_bar(world, DRY)
    reading = doubtful(world, batch, "110.0")
    settle(world, batch)
    entry = world.reading_entry("119.9", moment=reading.moment)
    correct(actor=world.actor, reading=reading, entry=entry, at=world.now)
    cure = settle(world, batch)
    assert cure.state == "check_due"
    assert cure.assessment.total_loss_pct == pytest.approx(100 * 10.1 / 130)
    assert [kind for kind, state in told(world) if state == "open"] == ["check_due"]


def test_all_batches_in_cure_are_looked_at_in_the_morning(world: World, stranger: World) -> None:
    ours = [world.batch(), world.batch()]
    theirs = stranger.batch()
    assert assess_all_this_morning(workshop=world.workshop, at=world.now) == 2
    assert [len(said(world, batch)) for batch in ours] == [1, 1]
    assert said(stranger, theirs) == []


def test_a_batch_cut_after_this_mornings_hour_is_looked_at_as_of_its_cut(world: World) -> None:
    batch = world.batch(cut_days_ago=0.05)
    cure = look(world, batch, days_later=0)
    assert (cure.assessment.moment, cure.assessment.age_days) == (batch.cut_at, 0)


def test_a_clock_that_was_a_year_ahead_for_a_while_does_not_decide_what_a_batch_is_now(world: World) -> None:
    batch = weighed(world, DRY)
    settle(world, batch)
    assess_this_morning(workshop=world.workshop, batch_id=batch.pk, at=world.now + timedelta(days=400))
    assert cure_of(world, batch).state == "not_weighed"
    checked(world, batch, passed=True)
    cure = settle(world, batch)
    assert (cure.state, cure.assessment.age_days < 100) == ("ready", True)
