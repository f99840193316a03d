"""A workshop's morning comes once a local day, in its own time zone."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from curehouse.workshops.models import Workshop
from curehouse.workshops.mornings import claim_morning, morning_due
from tests.world import World


def set_clock(world: World, *, zone: str, at: time, done: date | None = None) -> Workshop:
    Workshop.objects.filter(pk=world.workshop.pk).update(time_zone=zone, morning_at=at, morning_done_on=done)
    world.workshop.refresh_from_db()
    return world.workshop


@pytest.mark.parametrize(
    ("zone", "before", "after", "day"),
    [
        (
            "Europe/Berlin",
            datetime(2026, 3, 10, 5, 29, tzinfo=UTC),
            datetime(2026, 3, 10, 5, 30, tzinfo=UTC),
            date(2026, 3, 10),
        ),
        # The clocks went forward in the night: 06:30 is an hour earlier by UTC.
        (
            "Europe/Berlin",
            datetime(2026, 3, 29, 4, 29, tzinfo=UTC),
            datetime(2026, 3, 29, 4, 30, tzinfo=UTC),
            date(2026, 3, 29),
        ),
        (
            "America/New_York",
            datetime(2026, 3, 8, 10, 29, tzinfo=UTC),
            datetime(2026, 3, 8, 10, 30, tzinfo=UTC),
            date(2026, 3, 8),
        ),
        (
            "Pacific/Auckland",
            datetime(2026, 3, 9, 17, 29, tzinfo=UTC),
            datetime(2026, 3, 9, 17, 30, tzinfo=UTC),
            date(2026, 3, 10),
        ),
    ],
)
def test_a_morning_comes_when_the_workshops_own_clock_says_so(
    world: World, zone: str, before: datetime, after: datetime, day: date
) -> None:
    workshop = set_clock(world, zone=zone, at=time(6, 30))
    assert morning_due(workshop=workshop, at=before) is None
    assert morning_due(workshop=workshop, at=after) == day


def test_a_morning_the_clock_jumps_over_comes_after_the_jump(world: World) -> None:
    workshop = set_clock(world, zone="Europe/Berlin", at=time(2, 30))
    assert morning_due(workshop=workshop, at=datetime(2026, 3, 29, 1, 29, tzinfo=UTC)) is None
    assert morning_due(workshop=workshop, at=datetime(2026, 3, 29, 1, 30, tzinfo=UTC)) == date(2026, 3, 29)


def test_a_morning_that_would_come_twice_comes_once(world: World) -> None:
    workshop = set_clock(world, zone="Europe/Berlin", at=time(2, 30))
    assert morning_due(workshop=workshop, at=datetime(2026, 10, 25, 0, 30, tzinfo=UTC)) == date(2026, 10, 25)
    assert claim_morning(workshop=workshop, day=date(2026, 10, 25))
    workshop.refresh_from_db()
    assert morning_due(workshop=workshop, at=datetime(2026, 10, 25, 1, 30, tzinfo=UTC)) is None


def test_a_morning_is_claimed_once_and_never_backwards(world: World) -> None:
    workshop = set_clock(world, zone="Europe/Berlin", at=time(6, 30))
    assert claim_morning(workshop=workshop, day=date(2026, 3, 10))
    assert not claim_morning(workshop=workshop, day=date(2026, 3, 10))
    assert not claim_morning(workshop=workshop, day=date(2026, 3, 9))
    assert claim_morning(workshop=workshop, day=date(2026, 3, 11))


def test_a_morning_nobody_was_there_for_is_made_up_for_on_the_same_day_only(world: World) -> None:
    workshop = set_clock(world, zone="Europe/Berlin", at=time(6, 30), done=date(2026, 3, 8))
    assert morning_due(workshop=workshop, at=datetime(2026, 3, 10, 21, 0, tzinfo=UTC)) == date(2026, 3, 10)


def test_a_morning_noted_by_a_clock_far_ahead_keeps_no_morning_away(world: World) -> None:
    ahead = world.now.date() + timedelta(days=400)
    assert claim_morning(workshop=world.workshop, day=ahead)
    world.workshop.refresh_from_db()
    assert morning_due(workshop=world.workshop, at=world.now) == world.now.date()
    assert claim_morning(workshop=world.workshop, day=world.now.date())
