"""Lye that was dissolved beforehand at the table: its water would be too much in front, so only dry lye is weighed there."""

import uuid
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Invalid
from curehouse.flows.pour import Stopped, begin, say, stop
from curehouse.making.models import Pour, PourStep
from curehouse.making.pouring.saying import Said
from curehouse.making.pouring.table import Kind, read_table
from inventory.models import Lot
from tests.flows.test_lye_in_water import Dissolving
from tests.pouring import Bench
from tests.world import World

pytestmark = pytest.mark.django_db


def test_a_lot_of_dissolved_lye_is_refused_with_what_to_do_and_nothing_is_said(world: World) -> None:
    bench = Dissolving(world)
    jug = bench.dissolve().lot
    pour = begin(actor=world.actor, version=bench.soap(), fats_g=Decimal(1000), at=world.now)

    def weigh(slot: str, lot: Lot | None) -> PourStep:
        meant = read_table(pour).lines[slot].target_g
        said = Said(Kind.WEIGHED, uuid.uuid4(), slot=slot, lot=lot, amount_g=meant)
        return say(actor=world.actor, pour=pour, said=said, at=world.now)

    while (key := read_table(pour).next) != "naoh":
        if key in read_table(pour).lines:
            weigh(key, None)
        else:
            say(actor=world.actor, pour=pour, said=Said(key, uuid.uuid4()), at=world.now)
    with pytest.raises(Invalid) as refused:
        weigh("naoh", jug)
    assert refused.value.code == "dissolved"
    assert "Choose a lot of dry lye, or stop this pour" in refused.value.message
    assert not PourStep.objects.within(world.workshop).filter(pour=pour, lot=jug).exists()
    weigh("naoh", bench.dry)
    assert Pour.objects.within(world.workshop).get(pk=pour.pk).state == Pour.State.OPEN


def test_a_stopped_batch_needs_its_check_also_once_nothing_holds_it(world: World) -> None:
    bench = Bench(world)
    pour = bench.begin()
    bench.go_on(pour)
    batch = stop(actor=world.actor, pour=pour, stopped=Stopped("undissolved lye in the mould"), at=world.now).batch
    batch.refresh_from_db()
    assert batch.needs_check
    assert batch.check_by_formula


def test_trace_is_not_told_anew_once_more_was_said(world: World) -> None:
    """Else a weight that was changed after trace would count as changed before it."""
    bench = Bench(world)
    pour = bench.begin()
    bench.go_on(pour)
    trace = PourStep.objects.within(world.workshop).get(pour=pour, kind=Kind.TRACE)
    with pytest.raises(Conflict) as refused:
        bench.say(pour, Kind.TRACE, corrects=trace.pk)
    assert refused.value.code == "past_trace"
