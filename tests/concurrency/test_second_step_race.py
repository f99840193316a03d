"""One code that is sent twice at one moment opens once, and of two sets of recovery codes one is good."""

from datetime import datetime, timedelta
from functools import partial
from threading import Barrier

import pytest
from django.db import IntegrityError

from curehouse.common.errors import Conflict
from curehouse.workshops.models import RecoveryCode, SecondStep
from curehouse.workshops.services import second_step
from curehouse.workshops.services.second_step import RECOVERY_CODES, Way, renew_codes, switch_on, use_code
from tests.arena import STUCK_SECONDS, Arena
from tests.workshops.test_second_step import SEED, code_at, switched_on
from tests.world import PASSWORD, World


def house() -> tuple[World, list[str]]:
    world = World()
    return world, switched_on(world)


def later(world: World) -> datetime:
    return world.now + timedelta(minutes=5)


@pytest.mark.parametrize("way", [Way.APP, Way.RECOVERY])
def test_of_requests_with_one_code_one_comes_in(arena: Arena, way: Way) -> None:
    world, codes = arena.do(house)
    typed = code_at(later(world)) if way is Way.APP else codes[0]
    outcomes = arena.race(*[partial(use_code, person=world.owner, typed=typed, at=later(world)) for _ in range(6)])
    assert sorted(outcomes, key=str) == [None] * 5 + [way], outcomes


def test_a_code_that_is_looked_at_first_and_used_up_after_opens_twice(arena: Arena) -> None:
    """The control: both pass who look before either has written."""
    world, _codes = arena.do(house)
    both_looked, step = Barrier(2), int(later(world).timestamp()) // 30

    def read_then_write() -> bool:
        second = SecondStep.objects.get(person=world.owner)
        both_looked.wait(60)
        SecondStep.objects.filter(pk=second.pk).update(last_step=step)
        return second.last_step < step

    assert arena.race(read_then_write, read_then_write) == [True, True]


def test_switched_on_twice_at_one_moment_it_shows_one_set_of_codes(arena: Arena) -> None:
    world = arena.do(World)
    said = {"seed": SEED, "code": code_at(world.now), "present_password": PASSWORD, "at": world.now}
    outcomes = arena.race(*[partial(switch_on, person=world.owner, **said) for _ in range(3)])
    assert [type(one) for one in outcomes if isinstance(one, Exception)] == [Conflict, Conflict], outcomes
    assert arena.do(RecoveryCode.objects.count) == RECOVERY_CODES


def test_without_the_lock_both_find_it_off_and_only_the_table_refuses_one(
    arena: Arena, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control: with neither lock nor transaction, the second meets the table's own rule and nothing in words."""
    world, both_looked = arena.do(World), Barrier(2)
    steps_of = second_step._steps_of

    def late(*said: object) -> list[int]:
        both_looked.wait(STUCK_SECONDS)
        return steps_of(*said)

    monkeypatch.setattr(second_step, "own_row", lambda person: person)
    monkeypatch.setattr(second_step, "_steps_of", late)
    unguarded = partial(switch_on.__wrapped__, seed=SEED, code=code_at(world.now), present_password=PASSWORD, at=world.now)
    outcomes = arena.race(*[partial(unguarded, person=world.owner) for _ in range(2)])
    assert [type(one) for one in outcomes if isinstance(one, Exception)] == [IntegrityError], outcomes


def test_of_two_who_make_new_codes_at_one_moment_one_is_shown_those_that_open(arena: Arena) -> None:
    world, _codes = arena.do(house)
    said = {"present_password": PASSWORD, "codes_set": 1}
    outcomes = arena.race(*[partial(renew_codes, person=world.owner, **said) for _ in range(2)])
    (shown,) = [one for one in outcomes if isinstance(one, list)]
    assert [type(one) for one in outcomes if not isinstance(one, list)] == [Conflict], outcomes
    assert arena.do(lambda: use_code(person=world.owner, typed=shown[9], at=later(world))) is Way.RECOVERY
