"""A house is set up and a batch enters it: all of it, or nothing."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid
from curehouse.curing.models import Cure, Occupancy, SampleBar
from curehouse.curing.services.bars import end_sample_bar, mark_sample_bars
from curehouse.flows.enter_batch import RackEntry, cut
from curehouse.flows.set_up import is_set_up, set_up
from curehouse.making.models import Batch, Formula
from curehouse.notices.models import Subscription
from curehouse.workshops.models import Scale, User, Workshop
from tests.world import NOW, World, set_up_entry


def test_the_first_run_opens_a_house_one_can_weigh_in(db: None) -> None:
    assert not is_set_up()
    owner, workshop = set_up(entry=set_up_entry(unit="oz", round_days=(4, 1)), at=NOW)
    assert is_set_up()
    assert (workshop.unit, workshop.round_days, workshop.time_zone) == ("oz", [1, 4], "Europe/Berlin")
    assert Scale.objects.within(workshop).get().step_g == Decimal("0.1")
    assert Subscription.objects.within(workshop).get().user == owner


def test_a_house_is_set_up_once(db: None) -> None:
    set_up(entry=set_up_entry(), at=NOW)
    with pytest.raises(Conflict) as refused:
        set_up(entry=set_up_entry(email="wren@thistlewick.example"), at=NOW)
    assert refused.value.code == "set_up"
    assert (User.objects.count(), Workshop.objects.count()) == (1, 1)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"email": "nobody"}, "email"),
        ({"password": "short"}, "password"),
        ({"workshop_name": ""}, "workshop_name"),
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"round_days": ()}, "round_days"),
        ({"scale_step_g": Decimal(0)}, "step_g"),
        ({"scale_name": " "}, "name"),
    ],
)
def test_a_first_run_that_fails_leaves_an_empty_house(db: None, changes: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        set_up(entry=set_up_entry(**changes), at=NOW)
    assert refused.value.field == field
    assert not User.objects.exists()
    assert not is_set_up()


def test_a_batch_enters_with_its_sample_bars_its_place_and_its_cure(world: World) -> None:
    batch = world.batch(cut_days_ago=2, position=world.position(world.rack()))
    assert "".join(SampleBar.objects.within(world.workshop).order_by("letter").values_list("letter", flat=True)) == "ABC"
    assert Occupancy.objects.within(world.workshop).get().bars == 24
    cure = Cure.objects.within(world.workshop).get(batch=batch)
    assert (cure.state, cure.due_on, cure.state_since) == ("curing", date(2026, 3, 8), batch.cut_at)


def test_a_batch_that_is_only_poured_has_no_bars_until_it_is_cut(world: World) -> None:
    batch = world.batch(cut_days_ago=None, poured_at=world.days_ago(1))
    assert not SampleBar.objects.within(world.workshop).exists()
    rack = RackEntry(sample_bars=4, position=world.position(world.rack()))
    row = cut(actor=world.actor, batch=batch, cut_at=world.now, bars=20, rack=rack, at=world.now)
    assert (row.state, row.bars_left, row.sample_bars.count()) == ("curing", 20, 4)
    assert Occupancy.objects.within(world.workshop).get().bars == 20


@pytest.mark.parametrize(
    ("sample_bars", "capacity", "code"), [(0, 24, "sample_bars"), (13, 24, "sample_bars"), (3, 23, "position_full")]
)
def test_a_batch_whose_bars_cannot_be_marked_or_placed_does_not_enter(
    world: World, sample_bars: int, capacity: int, code: str
) -> None:
    position = world.position(world.rack(capacity=capacity))
    with pytest.raises(DomainError) as refused:
        world.batch(sample_bars=sample_bars, position=position)
    assert refused.value.code == code
    for model in (Batch, Formula, SampleBar, Cure):
        assert not model.objects.within(world.workshop).exists()


def test_sample_bars_are_marked_with_the_next_letters_and_never_reuse_one(world: World) -> None:
    batch = world.batch(sample_bars=2)
    end_sample_bar(bar=world.bar(batch, "A"), why=" sold   early ", at=world.now)
    assert [bar.letter for bar in mark_sample_bars(batch=batch, count=2)] == ["C", "D"]
    assert world.bar(batch, "A").ended_why == "sold early"


def test_a_sample_bar_ends_once_and_with_a_reason(world: World) -> None:
    batch = world.batch()
    with pytest.raises(Invalid) as refused:
        end_sample_bar(bar=world.bar(batch), why="  ", at=world.now)
    assert refused.value.field == "why"
    end_sample_bar(bar=world.bar(batch), why="broken", at=world.now)
    with pytest.raises(Conflict):
        end_sample_bar(bar=world.bar(batch), why="broken", at=world.now + timedelta(days=1))
