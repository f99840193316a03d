"""Owners who remove each other, and links that are taken twice, at one moment."""

from functools import partial
from threading import Barrier

import pytest

from curehouse.common.errors import Conflict, Forbidden, Gone
from curehouse.flows.join import Newcomer, join, join_new
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Invitation, Member, User
from curehouse.workshops.services import people
from curehouse.workshops.services.invitations import invite
from curehouse.workshops.services.people import change_role, leave, remove_member
from tests.arena import Arena
from tests.factories import PersonFactory
from tests.world import World


def two_owners() -> tuple[World, Actor]:
    world = World()
    invitation, _secret = invite(actor=world.actor, role="owner", email="", at=world.now)
    other = PersonFactory(email="wren@fennelyard.example", at=world.now)
    join(invitation=invitation, person=other, at=world.now)
    return world, Actor(workshop=world.workshop, user=other)


def place(actor: Actor) -> Member:
    return Member.objects.within(actor.workshop).get(user=actor.user)


def owners(world: World) -> int:
    return Member.objects.within(world.workshop).owners().count()


@pytest.mark.parametrize("way", ["remove", "lower", "leave"])
def test_two_owners_at_once_leave_one(arena: Arena, way: str) -> None:
    world, other = arena.do(two_owners)
    ours, theirs = arena.do(lambda: (place(world.actor), place(other)))
    at = world.now
    ways = {
        "remove": (
            partial(remove_member, actor=world.actor, member=theirs, at=at),
            partial(remove_member, actor=other, member=ours, at=at),
        ),
        "lower": (
            partial(change_role, actor=world.actor, member=theirs, role="maker", at=at),
            partial(change_role, actor=other, member=ours, role="maker", at=at),
        ),
        "leave": (partial(leave, actor=world.actor, at=at), partial(leave, actor=other, at=at)),
    }
    outcomes = arena.race(*ways[way])
    refused = [one for one in outcomes if isinstance(one, Exception)]
    assert len(refused) == 1, outcomes
    assert isinstance(refused[0], Conflict | Forbidden)
    assert arena.do(lambda: owners(world)) == 1


def test_without_the_lock_nobody_is_left(arena: Arena, monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: the race is real where several write at once, which on SQLite never happens."""
    if arena.vendor == "sqlite":
        monkeypatch.setattr(people, "lock_people", lambda workshop: None)
        world, other = arena.do(two_owners)
        arena.race(partial(leave, actor=world.actor, at=world.now), partial(leave, actor=other, at=world.now))
        assert arena.do(lambda: owners(world)) == 1
        return
    both_looked = Barrier(2)
    checked = people._check_not_last_owner

    def look_then_wait(*said: object) -> None:
        checked(*said)
        both_looked.wait(60)

    monkeypatch.setattr(people, "lock_people", lambda workshop: None)
    monkeypatch.setattr(people, "_check_not_last_owner", look_then_wait)
    world, other = arena.do(two_owners)
    arena.race(partial(leave, actor=world.actor, at=world.now), partial(leave, actor=other, at=world.now))
    assert arena.do(lambda: owners(world)) == 0


def newcomer(number: int) -> Newcomer:
    return Newcomer(f"Wren {number}", f"wren{number}@fennelyard.example", "lantern-orchard-spoon-7")


def test_of_two_who_take_a_link_at_once_one_comes_in(arena: Arena) -> None:
    world = arena.do(World)
    invitation, _secret = arena.do(lambda: invite(actor=world.actor, role="maker", email="", at=world.now))
    takers = [partial(join_new, invitation=invitation, newcomer=newcomer(number), at=world.now) for number in range(3)]
    outcomes = arena.race(*takers)
    assert [type(one) for one in outcomes if isinstance(one, Exception)] == [Gone, Gone], outcomes
    assert arena.do(lambda: (Member.objects.within(world.workshop).count(), User.objects.count())) == (2, 2)


def test_one_person_with_two_links_at_once_comes_in_once(arena: Arena) -> None:
    world = arena.do(World)

    def prepared() -> tuple[User, list[Invitation]]:
        links = [invite(actor=world.actor, role="maker", email="", at=world.now)[0] for _ in range(2)]
        return PersonFactory(email="wren@fennelyard.example", at=world.now), links

    person, links = arena.do(prepared)
    outcomes = arena.race(*[partial(join, invitation=link, person=person, at=world.now) for link in links])
    assert [type(one) for one in outcomes if isinstance(one, Exception)] == [Conflict], outcomes
    assert arena.do(lambda: Member.objects.within(world.workshop).filter(user=person).count()) == 1
