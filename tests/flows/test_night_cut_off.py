"""A night that is cut off at any step goes on where it stood, once the worker is back."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.curing.models import Cure, CureLearning, Forecast, Room, RoomReading
from curehouse.curing.services.forecasts import LEASE
from curehouse.curing.services.room_log import AirEntry
from curehouse.curing.services.rooms import add_room
from curehouse.flows import foretell as foretelling
from curehouse.flows import hear_rooms as hearing
from curehouse.flows import learn as learning
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.flows.log_air import log_air
from curehouse.flows.morning import begin_day
from tests.flows.test_foretell import cured
from tests.jobs.conftest import nudged_at
from tests.world import World

pytestmark = pytest.mark.django_db
Nudged = Callable[[datetime], list[tuple[str, tuple[int, ...]]]]
__all__ = ["nudged_at"]


class Killed(BaseException):
    """The worker's process is gone: nothing it would have done then is done."""


def killed_at(patch: pytest.MonkeyPatch, module: Any, name: str, *, call: int = 1) -> None:
    """Let the worker be killed as it comes to a step, the first time or a later one."""
    working, calls = getattr(module, name), iter(range(1, 1000))

    def step(*given: Any, **also: Any) -> Any:
        if next(calls) == call:
            raise Killed(name)
        return working(*given, **also)

    patch.setattr(module, name, step)


@pytest.fixture
def settled(world: World) -> Iterator[World]:
    """Return a house that learnt and foretold, of whose eleven cures one has ended since: all is to be learnt anew."""
    batches = [cured(world, days_ago=70 - 4 * n, number=n, last=35 if n < 6 else 21, sample_bars=1) for n in range(11)]
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    Cure.objects.within(world.workshop).filter(batch=batches[0]).update(ended_at=world.now, due_on=None)
    return world


def stale(world: World) -> list[int]:
    """Return the batches in cure whose forecast rests on another prior than the house goes by, or on none."""
    stages = CureLearning.objects.within(world.workshop).get().stages
    going_on = Cure.objects.within(world.workshop).going_on().select_related("forecast")
    known = {key for _begin, key in stages}
    return [one.batch_id for one in going_on if one.forecast is None or one.forecast.prior_id not in known]


def the_worker_is_back(world: World, nudged_at: Nudged, at: datetime) -> None:
    """Do what the tick finds, as long as it finds something of the forecast."""
    tasks = {"jobs.foretell": foretell_wanting, "jobs.learn": learn_and_foretell}
    for _ in range(20):
        found = [task for task, _ids in nudged_at(at) if task in tasks]
        if not found:
            return
        for task in found:
            tasks[task](workshop_id=world.workshop.pk, at=at)
    raise AssertionError(f"the tick finds without end: {found}")


@pytest.mark.parametrize(
    ("begin", "module", "step", "call"),
    [
        (learn_and_foretell, learning, "keep_prior", 1),
        (begin_day, learning, "keep_calibration", 1),
        (learn_and_foretell, learning, "end_learning", 1),
        (begin_day, foretelling, "foretell_batches", 1),
        (learn_and_foretell, foretelling, "foretell_batches", 1),
        (learn_and_foretell, foretelling, "answer_with_forecasts", 2),
        (begin_day, foretelling, "foretell_batches", 3),
    ],
)
def test_what_is_learnt_is_foretold_whenever_the_worker_is_killed(
    settled: World, nudged_at: Nudged, begin: Any, module: Any, step: str, call: int
) -> None:
    night = settled.now + timedelta(days=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(foretelling, "MOST_AT_ONCE", 4)
        patch.setattr(foretelling, "MOST_AT_NIGHT", 4)
        killed_at(patch, module, step, call=call)
        with pytest.raises(Killed):
            begin(workshop_id=settled.workshop.pk, at=night)
    the_worker_is_back(settled, nudged_at, night + LEASE)
    assert stale(settled) == []
    # It was another prior, and nothing is left that a night which is not cut off would find.
    assert Forecast.objects.within(settled.workshop).values("prior").distinct().count() > 1
    before = set(Forecast.objects.within(settled.workshop).values_list("pk", flat=True))
    assert learn_and_foretell(workshop_id=settled.workshop.pk, at=night + 2 * LEASE) == 0
    assert before == set(Forecast.objects.within(settled.workshop).values_list("pk", flat=True))


def test_a_morning_that_is_begun_again_while_the_dead_ones_lease_lasts_learns_after_it(
    settled: World, nudged_at: Nudged
) -> None:
    night = settled.now + timedelta(days=1)
    with pytest.MonkeyPatch.context() as patch:
        killed_at(patch, learning, "end_learning")
        with pytest.raises(Killed):
            begin_day(workshop_id=settled.workshop.pk, at=night)
    soon = night + timedelta(seconds=30)
    assert begin_day(workshop_id=settled.workshop.pk, at=soon) is not None
    the_worker_is_back(settled, nudged_at, night + LEASE)
    assert stale(settled) == []
    assert CureLearning.objects.within(settled.workshop).get().learnt_at == night + LEASE


def test_one_who_was_too_long_at_it_does_not_overwrite_what_was_learnt_since(settled: World) -> None:
    night, later = settled.now + timedelta(days=1), settled.now + timedelta(days=1) + LEASE
    working = learning.end_learning

    def another_was_quicker(**given: Any) -> Any:
        learning.end_learning = working
        ended = Cure.objects.within(settled.workshop).going_on().first()
        Cure.objects.within(settled.workshop).filter(pk=ended.pk).update(ended_at=later, due_on=None)
        learn_and_foretell(workshop_id=settled.workshop.pk, at=later)
        return working(**given)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(learning, "end_learning", another_was_quicker)
        learn_and_foretell(workshop_id=settled.workshop.pk, at=night)
    row = CureLearning.objects.within(settled.workshop).get()
    assert (row.learnt_at, row.claimed_until, row.wanted_at) == (later, None, None)
    assert stale(settled) == []


def test_what_rooms_have_to_say_is_heard_though_the_worker_is_killed(world: World, nudged_at: Nudged) -> None:
    room = add_room(workshop=world.workshop, name="Drying room")
    batch = cured(world, days_ago=22, last=21)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    entry = AirEntry(world.days_ago(5), Decimal(65), Decimal(18), RoomReading.Source.FORM, "one")
    log_air(actor=world.actor, room=room, entry=entry, at=world.now)
    for step in ("note_heard", "want_forecasts"):
        with pytest.MonkeyPatch.context() as patch:
            killed_at(patch, hearing, step)
            with pytest.raises(Killed):
                learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
        wanted = Cure.objects.within(world.workshop).get(batch=batch).forecast_wanted_at is not None
        heard = Room.objects.within(world.workshop).get().heard_before == world.now.date()
        assert (wanted, heard) in {(False, False), (True, True)}, step
