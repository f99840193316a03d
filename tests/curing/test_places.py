"""Bars come to a position, move, are turned and leave; the history and the counts agree."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.curing.balance import differences
from curehouse.curing.models import Occupancy, Placement, Position
from curehouse.curing.services.places import bars_without_place, move, place, take_away, turn
from tests.world import World


def put(world: World, batch, position: Position, bars: int, **how):
    return place(actor=world.actor, batch=batch, position=position, bars=bars, moved_at=world.now, at=world.now, **how)


def carry(world: World, batch, origin: Position, target: Position, bars: int, **how):
    return move(
        actor=world.actor, batch=batch, origin=origin, target=target, bars=bars, moved_at=world.now, at=world.now, **how
    )


def standing(world: World, batch) -> dict[str, int]:
    rows = Occupancy.objects.within(world.workshop).filter(batch=batch).standing()
    return {f"{row.position.level}.{row.position.place}": row.bars for row in rows}


def history(world: World, batch) -> list[tuple[str, int]]:
    return [(row.act, row.bars) for row in Placement.objects.within(world.workshop).filter(batch=batch).order_by("pk")]


def test_a_batch_may_stand_without_a_place_until_somebody_places_it(world: World) -> None:
    batch = world.batch()
    assert bars_without_place(batch) == 24
    put(world, batch, world.position(world.rack()), 20)
    assert bars_without_place(batch) == 4


def test_placing_moving_turning_and_taking_away_keep_the_history(world: World) -> None:
    rack = world.rack()
    top, low = world.position(rack, 1, 1), world.position(rack, 2, 1)
    batch = world.batch()
    put(world, batch, top, 24)
    carry(world, batch, top, low, 10)
    turn(actor=world.actor, batch=batch, position=low, moved_at=world.now, at=world.now)
    batch.bars_left = 20
    batch.save(update_fields=["bars_left"])
    take_away(actor=world.actor, batch=batch, bars=4, moved_at=world.now, at=world.now)
    assert history(world, batch) == [("placed", 24), ("moved", 10), ("turned", 10), ("taken", 4)]
    assert standing(world, batch) == {"1.1": 14, "2.1": 6}


def test_a_placement_over_capacity_is_refused_with_both_ways_out(world: World) -> None:
    rack = world.rack(capacity=20)
    with pytest.raises(Conflict) as refused:
        put(world, world.batch(), world.position(rack), 24)
    error = refused.value
    assert error.code == "position_full"
    assert (error.data["held"], error.data["capacity"], error.data["raise_to"], error.data["rest"]) == (0, 20, 24, 4)
    assert [one["free"] for one in error.data["elsewhere"]] == [20, 20, 20]
    assert "raise its capacity to 24" in error.message
    assert "the other 4 elsewhere (60 places are free)" in error.message
    assert not Placement.objects.within(world.workshop).exists()


def test_a_placement_over_capacity_may_raise_it_in_the_same_step(world: World) -> None:
    position = world.position(world.rack(capacity=20))
    put(world, world.batch(), position, 24, when_full="raise")
    position.refresh_from_db()
    assert (position.capacity_bars, position.bars_held) == (24, 24)


def test_the_rest_may_go_elsewhere_in_the_same_step_from_there_on_round_the_house(world: World) -> None:
    rack = world.rack(levels=1, places=3, capacity=10)
    batch = world.batch()
    put(world, batch, world.position(rack, 1, 3), 24, when_full="elsewhere")
    assert standing(world, batch) == {"1.3": 10, "1.1": 10, "1.2": 4}


def test_what_fits_nowhere_stays_without_a_place(world: World) -> None:
    rack = world.rack(levels=1, places=2, capacity=10)
    batch = world.batch()
    put(world, batch, world.position(rack), 24, when_full="elsewhere")
    assert bars_without_place(batch) == 4


def test_a_house_without_a_free_place_says_so(world: World) -> None:
    rack = world.rack(levels=1, places=1, capacity=24)
    put(world, world.batch(), world.position(rack), 24)
    with pytest.raises(Conflict) as refused:
        put(world, world.batch(), world.position(rack), 24, when_full="elsewhere")
    assert refused.value.code == "house_full"


def test_a_move_that_does_not_fit_names_no_place_it_comes_from(world: World) -> None:
    rack = world.rack(levels=1, places=2, capacity=24)
    left, right = world.position(rack, 1, 1), world.position(rack, 1, 2)
    batch = world.batch()
    put(world, batch, left, 24)
    put(world, world.batch(), right, 20)
    with pytest.raises(Conflict) as refused:
        carry(world, batch, left, right, 10)
    assert refused.value.data["elsewhere"] == []
    assert "elsewhere" not in refused.value.message


def test_a_move_elsewhere_leaves_what_fits_nowhere_where_it_stands(world: World) -> None:
    rack = world.rack(levels=1, places=2, capacity=24)
    left, right = world.position(rack, 1, 1), world.position(rack, 1, 2)
    batch = world.batch()
    put(world, batch, left, 24)
    put(world, world.batch(), right, 20)
    carry(world, batch, left, right, 10, when_full="elsewhere")
    assert standing(world, batch) == {"1.1": 20, "1.2": 4}
    assert history(world, batch)[-1] == ("moved", 4)
    assert differences() == []


def test_a_move_into_a_full_house_is_refused_rather_than_quietly_not_done(world: World) -> None:
    rack = world.rack(levels=1, places=2, capacity=24)
    left, right = world.position(rack, 1, 1), world.position(rack, 1, 2)
    batch = world.batch()
    put(world, batch, left, 24)
    put(world, world.batch(), right, 24)
    with pytest.raises(Conflict) as refused:
        carry(world, batch, left, right, 10, when_full="elsewhere")
    assert refused.value.code == "house_full"
    assert standing(world, batch) == {"1.1": 24}


@pytest.mark.parametrize("bars", [0, -1, 25])
def test_only_bars_that_are_there_are_placed_or_moved(world: World, bars: int) -> None:
    rack = world.rack(capacity=100)
    here, there = world.position(rack, 1, 1), world.position(rack, 1, 2)
    loose, placed = world.batch(), world.batch()
    put(world, placed, here, 24)
    for refused in (lambda: put(world, loose, here, bars), lambda: carry(world, placed, here, there, bars)):
        with pytest.raises(Invalid) as error:
            refused()
        assert error.value.field == "bars"


def test_bars_that_stand_are_not_placed_again(world: World) -> None:
    rack = world.rack()
    batch = world.batch()
    put(world, batch, world.position(rack), 24)
    with pytest.raises(Invalid, match="move them instead"):
        put(world, batch, world.position(rack, 1, 2), 1)


def test_bars_are_not_moved_to_where_they_stand(world: World) -> None:
    position = world.position(world.rack())
    batch = world.batch()
    put(world, batch, position, 24)
    with pytest.raises(Invalid) as refused:
        carry(world, batch, position, position, 3)
    assert refused.value.code == "same_place"


def test_nothing_is_turned_where_nothing_stands(world: World) -> None:
    with pytest.raises(Invalid, match="No bars of"):
        turn(actor=world.actor, batch=world.batch(), position=world.position(world.rack()), moved_at=world.now, at=world.now)


@pytest.mark.parametrize(("days_ago", "code"), [(-1, "future"), (31, "before_cut")])
def test_a_placement_lies_between_the_cut_and_now(world: World, days_ago: int, code: str) -> None:
    batch = world.batch(cut_days_ago=30)
    with pytest.raises(Invalid) as refused:
        place(
            actor=world.actor, batch=batch, position=world.position(world.rack()), bars=24,
            moved_at=world.now - timedelta(days=days_ago), at=world.now,
        )  # fmt: skip
    assert refused.value.code == code


def test_a_batch_that_is_not_cut_has_no_bars_to_place(world: World) -> None:
    with pytest.raises(Conflict) as refused:
        put(world, world.batch(cut_days_ago=None), world.position(world.rack()), 1)
    assert refused.value.code == "not_curing"


def test_bars_without_a_place_leave_before_any_place_is_emptied(world: World) -> None:
    batch = world.batch()
    put(world, batch, world.position(world.rack()), 20)
    batch.bars_left = 19
    batch.save(update_fields=["bars_left"])
    take_away(actor=world.actor, batch=batch, bars=5, moved_at=world.now, at=world.now)
    assert history(world, batch) == [("placed", 20), ("taken", 1)]


def test_the_database_itself_refuses_one_bar_too_many(world: World) -> None:
    position = world.position(world.rack(capacity=24))
    with pytest.raises(IntegrityError, match="position_capacity"), transaction.atomic():
        Position.unscoped.filter(pk=position.pk).update(bars_held=25)


def test_verify_places_finds_nothing_in_a_house_that_worked(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    rack = world.rack()
    batch = world.batch(position=world.position(rack))
    carry(world, batch, world.position(rack), world.position(rack, 2, 2), 7)
    call_command("verify_places")
    assert "Every count is what its ledger comes to." in capsys.readouterr().out


def test_verify_places_names_each_count_somebody_tampered_with(world: World, capsys: pytest.CaptureFixture[str]) -> None:
    position = world.position(world.rack())
    batch = world.batch(position=position)
    Position.unscoped.filter(pk=position.pk).update(bars_held=23)
    Occupancy.unscoped.filter(batch=batch).update(bars=22)
    type(batch).unscoped.filter(pk=batch.pk).update(bars_left=21)
    with pytest.raises(CommandError, match="3 counts differ"):
        call_command("verify_places")
    said = capsys.readouterr().out
    assert f"bars held at position {position.pk}: 23 kept, 24 by the ledger" in said
    assert f"bars of batch {batch.pk} at position {position.pk}: 22 kept, 24 by the ledger" in said
    assert f"bars left of batch {batch.pk}: 21 kept, 24 by the ledger" in said
