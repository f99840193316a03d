"""The tick goes on when the computer's clock is set back or forward under a running beat."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from celery import Celery
from celery.beat import Scheduler

from curehouse.jobs import schedule
from curehouse.jobs.schedule import beat_schedule

TICK_SECONDS = 30
HOUR = timedelta(hours=1)


class Clocks:
    """A wall clock that can be set, and the seconds that really went by."""

    def __init__(self) -> None:
        self.wall, self.seconds = datetime.now(UTC), 1000.0

    def go(self, seconds: float, *, set_by: timedelta = timedelta()) -> None:
        self.seconds += seconds
        self.wall += timedelta(seconds=seconds) + set_by


@pytest.fixture
def clocks(monkeypatch: pytest.MonkeyPatch) -> Clocks:
    clocks = Clocks()
    monkeypatch.setattr(schedule, "monotonic", lambda: clocks.seconds)
    monkeypatch.setattr(schedule, "_BEGAN_MONOTONIC_SECONDS", clocks.seconds)
    return clocks


def ticks_in_ten_minutes(clocks: Clocks, entries: dict[str, Any], *, set_by: timedelta) -> int:
    """Let beat run for ten minutes, the wall clock set once in the middle; return the nudges sent."""
    app = Celery("a house for this test", set_as_current=False)
    app.conf.update(beat_schedule=entries, timezone="UTC")
    app.now = lambda: clocks.wall
    sent: list[str] = []
    scheduler = Scheduler(app)
    scheduler.apply_entry = lambda entry, producer=None: sent.append(scheduler.reserve(entry).task)
    ends = clocks.seconds + 600
    is_set = False
    while clocks.seconds < ends:
        # As both beats do: they sleep for what tick() says, by a clock nobody sets.
        clocks.go(max(scheduler.tick(), 0.01), set_by=timedelta() if is_set else set_by)
        is_set = True
    assert set(sent) <= {"jobs.tick"}
    return len(sent)


@pytest.mark.parametrize("set_by", [-HOUR, timedelta(), HOUR], ids=["back", "right", "forward"])
def test_the_tick_comes_every_thirty_seconds_whatever_the_wall_clock_is_set_to(clocks: Clocks, set_by: timedelta) -> None:
    assert ticks_in_ten_minutes(clocks, beat_schedule(TICK_SECONDS), set_by=set_by) == pytest.approx(20, abs=1)


def test_by_the_wall_clock_the_tick_would_stay_away(clocks: Clocks) -> None:
    entries = beat_schedule(TICK_SECONDS)
    entries["tick"]["schedule"] = float(TICK_SECONDS)
    assert ticks_in_ten_minutes(clocks, entries, set_by=-HOUR) <= 1


def test_the_steady_moment_goes_by_seconds_and_starts_at_the_wall_clock(clocks: Clocks) -> None:
    before = schedule.steady_now()
    clocks.go(45, set_by=-HOUR)
    assert schedule.steady_now() - before == timedelta(seconds=45)
    assert abs(before - schedule._BEGAN) < timedelta(seconds=1)
