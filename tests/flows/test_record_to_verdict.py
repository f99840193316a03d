"""From the rows of a record to its figures: the moments at which the rule of the weekly loss turns, by hand."""

from datetime import UTC, datetime, timedelta

import pytest

from curehouse.curing.models import Assessment, Cure
from curehouse.flows.assess import assess_batch
from curehouse.flows.end_bar import end_bar
from curehouse.flows.weigh import correct, keep, strike
from curehouse.making.models import Batch
from tests.world import World


def weighed(world: World, *pairs: tuple[float, str], letter: str = "A", sample_bars: int = 1) -> Batch:
    batch = world.batch(cut_days_ago=30, sample_bars=sample_bars)
    add(world, batch, *pairs, letter=letter)
    return batch


def add(world: World, batch: Batch, *pairs: tuple[float, str], letter: str = "A") -> None:
    for day, weight_g in pairs:
        world.weigh(world.bar(batch, letter), weight_g, moment=batch.cut_at + timedelta(days=day))


def verdict(world: World, batch: Batch) -> Assessment:
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    return Cure.objects.within(world.workshop).select_related("assessment").get(batch=batch).assessment


@pytest.mark.parametrize(
    ("pairs", "percent"),
    [
        ([(0, "124.0"), (4.99, "120.0")], None),
        ([(0, "124.0"), (5, "120.0")], 100 * 4.0 * 7 / 5 / 120),
        ([(0, "124.0"), (6.99, "120.0")], 100 * 4.0 * 7 / 6.99 / 120),
        ([(0, "124.0"), (7, "120.0")], 100 * 4.0 / 120),
        # Seven days back is day 3, three tenths of the way from 125 g to 121 g: 123.8 g.
        ([(0, "125.0"), (10, "121.0")], 100 * (122.2 - 121.0) * 7 / 3 / 121.0),
        ([(0, "125.0"), (10.01, "121.0")], None),
        ([(0, "129.0"), (10, "121.0"), (14, "120.0")], 100 * (123.4 - 120.0) / 120.0),
        ([(0, "129.0"), (10.01, "121.0"), (14, "120.0")], None),
        # Two weighings of one day: each at its own moment, the later one is the newest.
        ([(0, "124.0"), (7, "120.4"), (7.25, "120.0")], 100 * (124.0 - 3.6 * 0.25 / 7 - 120.0) / 120.0),
        # Two of one moment: their mean.
        ([(0, "124.0"), (7, "120.4"), (7, "120.0")], 100 * (124.0 - 120.2) / 120.2),
    ],
)
def test_the_weekly_loss_turns_where_the_rule_says(world: World, pairs: list[tuple[float, str]], percent: float | None) -> None:
    found = verdict(world, weighed(world, *pairs)).weekly_loss_pct
    assert found == (None if percent is None else pytest.approx(percent, abs=1e-6))


def test_a_bar_that_is_gone_keeps_its_say_until_its_last_weighing_is_ten_days_behind(world: World) -> None:
    batch = weighed(world, (0, "130.0"), (7, "124.0"), (14, "120.0"), sample_bars=2)
    add(world, batch, (0, "130.0"), (7, "125.0"), (14, "121.2"), letter="B")
    end_bar(actor=world.actor, bar=world.bar(batch, "B"), why="sold", at=world.now)
    add(world, batch, (21, "119.0"), (24, "118.8"))
    # Bar B lost 3.8 of 121.2 g in its own last week; bar A's day 17 lies 3/7 of the way from 120 g to 119 g.
    by_a = 100 * (120.0 - 3 / 7 - 118.8) / 118.8
    assert verdict(world, batch).weekly_loss_pct == pytest.approx((by_a + 100 * 3.8 / 121.2) / 2, abs=1e-6)
    add(world, batch, (24.01, "118.8"))
    assert verdict(world, batch).weekly_loss_pct < 1.0
    assert [bar["label"] for bar in verdict_bars(world, batch)] == ["A"]


def verdict_bars(world: World, batch: Batch) -> list[dict[str, object]]:
    return Cure.objects.within(world.workshop).select_related("assessment").get(batch=batch).assessment.figures["bars"]


def test_a_correction_counts_at_its_own_moment_and_what_is_struck_out_not_at_all(world: World) -> None:
    batch = weighed(world, (0, "130.0"), (7, "125.0"), (14, "121.9"), (21, "120.0"))
    rows = {row.moment: row for row in world.bar(batch).readings.all()}
    third = rows[batch.cut_at + timedelta(days=14)]
    entry = world.reading_entry("122.4", moment=batch.cut_at + timedelta(days=13))
    fixed, _ = correct(actor=world.actor, reading=third, entry=entry, at=world.now)
    # Day 14 lies an eighth of the way from 122.4 g on day 13 to 120 g on day 21.
    assert verdict(world, batch).weekly_loss_pct == pytest.approx(100 * (122.4 - 2.4 / 8 - 120.0) / 120.0, abs=1e-6)
    strike(actor=world.actor, reading=fixed, reason="wrong bar", at=world.now)
    # Day 7 and day 21 are 14 days apart.
    assert verdict(world, batch).weekly_loss_pct is None


def test_a_doubtful_weighing_counts_from_when_it_is_kept(world: World) -> None:
    batch = weighed(world, (0, "130.0"), (7, "125.0"), (14, "122.0"), (21, "12.1"))
    doubtful = world.bar(batch).readings.order_by("-moment").first()
    assert doubtful.doubt
    before = verdict(world, batch)
    assert before.weekly_loss_pct == pytest.approx(100 * 3 / 122, abs=1e-6)
    keep(actor=world.actor, reading=doubtful, at=world.now)
    assert verdict(world, batch).weekly_loss_pct == pytest.approx(100 * (122.0 - 12.1) / 12.1, abs=1e-6)


# In Berlin the clocks went forward on 29 March 2026: a week of wall time holding that night is 167 hours.
def test_days_are_local_days_though_the_clocks_change(db: None) -> None:
    world = World(now=datetime(2026, 4, 20, 9, 0, tzinfo=UTC))
    # Cut at 00:30 on 24 March (23:30 UTC the day before); its day 28 begins at 00:00 on 21 April (22:00 UTC on the 20th).
    cut_at = datetime(2026, 3, 23, 23, 30, tzinfo=UTC)
    batch = world.batch(cut_at=cut_at, poured_at=datetime(2026, 3, 22, 12, 0, tzinfo=UTC), sample_bars=1)
    for weeks, weight_g in enumerate(("130.0", "124.0", "121.0", "120.4")):
        summer = timedelta(hours=1 if weeks else 0)
        world.weigh(world.bar(batch), weight_g, moment=cut_at + timedelta(weeks=weeks, minutes=5) - summer)
    found = verdict(world, batch)
    # From the third weighing to the fourth it is a whole week: 121.0 to 120.4 g.
    assert found.weekly_loss_pct == pytest.approx(100 * 0.6 / 120.4, abs=1e-6)
    assert (found.age_days, found.state) == (21, "curing")
    for hours, age in ((-1, 27), (1, 28)):
        moment = datetime(2026, 4, 20, 22, 0, tzinfo=UTC) + timedelta(hours=hours)
        add_at = world.weigh(world.bar(batch), "120.0", moment=moment)
        assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=moment)
        row = Assessment.objects.within(world.workshop).get(reading=add_at)
        assert (row.age_days, row.state) == (age, "curing" if age == 27 else "check_due")
