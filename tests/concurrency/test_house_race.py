"""The house itself: opened once, numbered once, claimed once, done once."""

from datetime import timedelta
from functools import partial

from django.db import transaction

from curehouse.common.claims import claim
from curehouse.common.errors import Conflict
from curehouse.flows.set_up import set_up
from curehouse.making.models import Batch
from curehouse.notices.models import Delivery
from curehouse.notices.services import tell
from curehouse.workshops.models import User, Workshop
from curehouse.workshops.services import begin_submission, finish_submission
from tests.arena import Arena
from tests.world import NOW, World, set_up_entry


def test_of_two_who_set_the_house_up_at_once_one_may(arena: Arena) -> None:
    entries = [set_up_entry(email=f"maker{number}@fennelyard.example") for number in range(3)]
    outcomes = arena.race(*[partial(set_up, entry=entry, at=NOW) for entry in entries])
    refused = [one for one in outcomes if isinstance(one, Exception)]
    assert [(type(one), one.code) for one in refused] == [(Conflict, "set_up")] * 2, outcomes
    assert arena.do(lambda: (Workshop.objects.count(), User.objects.count())) == (1, 1)


def test_batches_entered_at_once_have_numbers_of_their_own(arena: Arena) -> None:
    world = arena.do(World)

    def enter(name: str) -> list[int]:
        return [world.batch(formula_name=f"{name} {number % 3}").number for number in range(20)]

    outcomes = arena.race(partial(enter, "Goat & oat"), partial(enter, "Calendula"))
    assert sorted(number for numbers in outcomes for number in numbers) == list(range(1, 41))
    assert arena.do(lambda: Batch.objects.within(world.workshop).count()) == 40


def test_batches_of_one_new_formula_entered_at_once_share_it(arena: Arena) -> None:
    world = arena.do(World)
    batches = arena.race(*[world.batch] * 3)
    assert len({batch.formula_id for batch in batches}) == 1


def told(world: World) -> int:
    tell(
        workshop=world.workshop, key="ready:batch:1:1", kind="ready", about="batch:1", mark="ready",
        title="Ready", body="It is.", path="/", at=world.now,
    )  # fmt: skip
    return Delivery.objects.within(world.workshop).get().pk


def test_a_thing_told_by_two_at_once_is_told_once(arena: Arena) -> None:
    world = arena.do(World)
    outcomes = arena.race(partial(told, world), partial(told, world))
    assert outcomes[0] == outcomes[1]


def test_a_claim_has_one_winner(arena: Arena) -> None:
    world = arena.do(World)
    delivery = arena.do(partial(told, world))

    def grab() -> bool:
        return claim(Delivery.unscoped.filter(pk=delivery), at=world.now, lease=timedelta(minutes=2))

    assert sorted(arena.race(*[grab] * 6)) == [False] * 5 + [True]


def test_a_form_sent_twice_at_once_is_done_once(arena: Arena) -> None:
    world = arena.do(World)

    def submit() -> tuple[bool, object]:
        with transaction.atomic():
            row, fresh = begin_submission(workshop=world.workshop, key="one", content=b"same", at=world.now)
            if fresh:
                finish_submission(submission=row, answer={"location": f"/batches/{world.batch().pk}/"})
            return fresh, row.answer

    outcomes = arena.race(submit, submit, submit)
    assert sorted(fresh for fresh, _answer in outcomes) == [False, False, True]
    assert len({str(answer) for _fresh, answer in outcomes}) == 1
    assert arena.do(lambda: Batch.objects.within(world.workshop).count()) == 1
