"""Somebody puts a material off while the house looks what to order: it does not stand on an order afterwards."""

from collections.abc import Iterator
from functools import partial
from threading import Event

import pytest

from curehouse.flows import propose as proposing
from curehouse.flows.take_off import end_offer, put_off, retire_supplier
from inventory.models import OrderLine, Proposal
from tests.arena import Arena
from tests.used import used
from tests.world import World

# So long the look holds what it locked, once it has found that nothing changed meanwhile.
HELD_SECONDS = 1.0


@pytest.fixture
def found(monkeypatch: pytest.MonkeyPatch) -> Iterator[Event]:
    """Return what is set once a look has found that nothing was put off, and goes on to write a moment later."""
    event, stands_as_read = Event(), proposing._stands_as_read

    def and_wait(*args: object) -> bool:
        stands = stands_as_read(*args)
        event.set()
        Event().wait(HELD_SECONDS)
        return stands

    monkeypatch.setattr(proposing, "_stands_as_read", and_wait)
    yield event


@pytest.mark.parametrize("how", ["put off", "ended", "nobody sells it"])
def test_what_is_taken_off_while_it_is_written_is_on_no_order(arena: Arena, found: Event, how: str) -> None:
    world = arena.do(World)
    oil = arena.do(partial(used, world))

    def take_off() -> None:
        found.wait(10)
        if how == "ended":
            end_offer(actor=world.actor, offer=oil, at=world.now)
        elif how == "nobody sells it":
            retire_supplier(actor=world.actor, supplier=oil.supplier, at=world.now)
        else:
            put_off(actor=world.actor, material=oil.material, until=world.now.date().replace(day=28), why="No.", at=world.now)

    assert arena.race(partial(proposing.propose, workshop=world.workshop, at=world.now), take_off)[1] is None
    lines = OrderLine.objects.within(world.workshop).filter(order__state="written", material=oil.material)
    assert not arena.do(lines.exists)
    assert not arena.do(Proposal.objects.within(world.workshop).exists)
