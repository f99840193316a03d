"""Local days and moments around the changes of the clock."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.time import first_day_of, local_day, local_moment

# Rules of the time zones: IANA tz database (Europe/Berlin changed on 29 March and 25 October 2026
# at 01:00 UTC; America/New_York on 8 March 2026 at 07:00 UTC).


def test_a_day_is_the_workshops_own() -> None:
    moment = datetime(2026, 3, 10, 23, 30, tzinfo=UTC)
    assert local_day(moment, "Europe/Berlin") == date(2026, 3, 11)
    assert local_day(moment, "America/New_York") == date(2026, 3, 10)
    assert local_day(moment, "Pacific/Auckland") == date(2026, 3, 11)


def test_a_wall_time_the_clock_jumps_over_is_read_after_the_jump() -> None:
    assert local_moment(date(2026, 3, 29), time(2, 30), "Europe/Berlin") == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert local_moment(date(2026, 3, 8), time(2, 30), "America/New_York") == datetime(2026, 3, 8, 7, 30, tzinfo=UTC)


def test_a_wall_time_that_comes_twice_is_the_first_of_the_two() -> None:
    assert local_moment(date(2026, 10, 25), time(2, 30), "Europe/Berlin") == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_the_same_wall_time_moves_against_utc_with_the_season() -> None:
    winter = local_moment(date(2026, 3, 28), time(6, 30), "Europe/Berlin")
    summer = local_moment(date(2026, 3, 29), time(6, 30), "Europe/Berlin")
    assert summer - winter == timedelta(hours=23)


@given(st.dates(date(2020, 1, 1), date(2035, 12, 31)), st.times(), st.sampled_from(["Europe/Berlin", "America/New_York"]))
def test_a_local_moment_lies_on_its_own_day(day: date, clock: time, zone: str) -> None:
    assert local_day(local_moment(day, clock, zone), zone) == day


@given(st.dates(date(2020, 1, 1), date(2035, 12, 31)), st.sets(st.integers(0, 6), min_size=1))
def test_the_first_round_day_is_one_of_them_and_the_soonest(day: date, weekdays: set[int]) -> None:
    found = first_day_of(sorted(weekdays), from_day=day)
    assert found.weekday() in weekdays
    assert found >= day
    assert not any((day + timedelta(days=skipped)).weekday() in weekdays for skipped in range((found - day).days))


def test_no_weekday_at_all_is_a_programmers_mistake() -> None:
    with pytest.raises(ValueError, match="weekday"):
        first_day_of([], from_day=date(2026, 3, 10))
