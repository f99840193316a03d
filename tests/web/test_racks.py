"""The racks: drawn from their positions, put up, renamed, filled."""

import uuid
from html import unescape

import pytest
from django.urls import reverse

from curehouse.curing.models import Occupancy, Placement, Position, Rack
from curehouse.flows.take_out import take_out
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import Visitor, each_place, ready_batch
from tests.world import World


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def _standing(world: World) -> dict[str, int]:
    rows = Occupancy.objects.within(world.workshop).standing()
    return {str(row.position): row.bars for row in rows}


def _close(world: World, batch: Batch) -> None:
    entry = TakeOutEntry(batch.bars_left, "gift", world.now, "the fair is today")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)


def test_the_racks_are_drawn_from_what_stands_on_them(visitor: Visitor, world: World) -> None:
    rack = world.rack("North wall", levels=2, places=1, capacity=30)
    ready = ready_batch(world, formula_name="Old one", position=world.position(rack, 1))
    world.batch(cut_days_ago=3, formula_name="New one", position=world.position(rack, 2))
    page = visitor.get("racks")
    html, words = page.content.decode(), text_of(page)
    assert "2 batches, 48 bars; the water line in a bar is what is still in it." in words
    assert "Old one 1: ready, 24 bars" in words
    assert "New one 2: curing, day 3, 24 bars, water left not known" in words
    assert "level 1, place 1 · 24 of 30 bars" in words
    assert html.count('class="rack-drawing"') == 1
    assert reverse("web:batch", args=[ready.pk]) in html
    assert reverse("web:position", args=[world.position(rack, 2).pk]) in html
    assert "✓ ready : dry enough, safety check passed" in words
    assert "Without a place" not in words


def test_bars_without_a_place_are_listed_below_the_racks(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=24)
    world.batch(formula_name="Loose one", bars=30)
    batch = Batch.objects.within(world.workshop).get()
    visitor.post("batch_place", batch.pk, position=world.position(rack).pk, bars="20", moved_at="")
    said = visitor.words("racks")
    assert "1 batch, 20 bars; the water line in a bar is what is still in it; 10 bars more have no place." in said
    assert "Loose one 1 10 of 30 bars" in said.split("Without a place")[1]
    world.batch(formula_name="Loose two", bars=18)
    assert "1 batch, 20 bars; the water line in a bar is what is still in it; 28 bars more have no place." in visitor.words(
        "racks"
    )


def test_a_workshop_without_a_rack_is_told_what_a_rack_is_for(visitor: Visitor) -> None:
    assert "No rack yet" in visitor.words("racks")


def test_a_rack_is_put_up_with_its_places(visitor: Visitor, world: World) -> None:
    answer = visitor.post("rack_new", name="Cellar", levels="3", places="2", capacity_bars="20")
    assert answer.status_code == 302
    assert Position.objects.within(world.workshop).filter(rack__name="Cellar", capacity_bars=20).count() == 6


@pytest.mark.parametrize(
    ("field", "typed", "remedy"),
    [
        ("name", " ", "The rack's name is missing: type a name."),
        ("levels", "0", "The number of levels is a whole number from 1 to 20: check the figure."),
        ("places", "two", "The number of places is a whole number"),
        ("capacity_bars", "", "The number of bars is missing: type a whole number."),
    ],
)
def test_a_rack_that_cannot_be_put_up_is_answered_with_a_remedy(
    visitor: Visitor, world: World, field: str, typed: str, remedy: str
) -> None:
    sent = {"name": "Cellar", "levels": "3", "places": "2", "capacity_bars": "20", field: typed}
    answer = visitor.post("rack_new", **sent)
    assert answer.status_code == 200
    assert remedy in unescape(answer.content.decode())
    assert not Rack.objects.within(world.workshop).exists()


def test_a_rack_whose_name_is_taken_keeps_what_was_typed(visitor: Visitor, world: World) -> None:
    world.rack("Cellar")
    answer = visitor.post("rack_new", name="Cellar", levels="3", places="2", capacity_bars="21")
    assert "There is a rack called Cellar already" in answer.content.decode()
    assert 'value="21"' in answer.content.decode()
    assert Rack.objects.within(world.workshop).count() == 1


def test_a_rack_sent_twice_is_put_up_once(visitor: Visitor, world: World) -> None:
    key = str(uuid.uuid4())
    sent = {"name": "Cellar", "levels": "1", "places": "1", "capacity_bars": "20"}
    first = visitor.post("rack_new", form_key=key, **sent)
    second = visitor.post("rack_new", form_key=key, **sent)
    assert first.url == second.url
    assert Rack.objects.within(world.workshop).count() == 1


def test_a_rack_gets_another_name_unless_it_is_taken(visitor: Visitor, world: World) -> None:
    rack, _other = world.rack("North wall"), world.rack("Cellar")
    assert "already" in visitor.post("rack", rack.pk, name="Cellar").content.decode()
    visitor.post("rack", rack.pk, name="By the window")
    assert "By the window" in visitor.words("rack", rack.pk)


def test_a_position_shows_what_stands_there(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=30)
    ready_batch(world, formula_name="Old one", position=world.position(rack))
    words = visitor.words("position", world.position(rack).pk)
    assert "North wall, level 1, place 1 24 of 30 bars" in words
    assert "Old one 1 24 bars" in words
    assert "✓ ready" in words


def test_a_position_holds_another_number_of_bars_but_never_fewer_than_stand_there(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=30)
    world.batch(position=world.position(rack))
    pk = world.position(rack).pk
    refused = visitor.post("position_capacity", pk, capacity_bars="23")
    assert "holds 24 bars now: move some first" in refused.content.decode()
    assert 'value="23"' in refused.content.decode()
    assert world.position(rack).capacity_bars == 30
    visitor.post("position_capacity", pk, capacity_bars="40")
    assert world.position(rack).capacity_bars == 40


def test_bars_of_a_batch_are_placed_from_the_position(visitor: Visitor, world: World) -> None:
    place = world.position(world.rack(capacity=24))
    batch = world.batch()
    visitor.post("position_place", place.pk, batch=batch.pk, bars="24", moved_at="")
    assert _standing(world) == {"North wall, level 1, place 1": 24}


def test_a_full_position_is_asked_about_on_its_own_page(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=20)
    batch, place = world.batch(), world.position(rack)
    asked = visitor.post("position_place", place.pk, batch=batch.pk, bars="24", moved_at="")
    assert "Raise it to 24" in text_of(asked)
    assert "Put the other 4 elsewhere North wall, level 1, place 2" in text_of(asked)
    visitor.post("position_place", place.pk, batch=batch.pk, bars="24", moved_at="", when_full="raise")
    assert _standing(world) == {"North wall, level 1, place 1": 24}
    assert world.position(rack).capacity_bars == 24


def test_turning_is_noted_from_the_position_with_one_tap(visitor: Visitor, world: World) -> None:
    place = world.position(world.rack())
    batch = world.batch(position=place)
    assert visitor.post("batch_turn", batch.pk, position=place.pk).status_code == 302
    assert Placement.objects.within(world.workshop).filter(act="turned", bars=24, origin=place).count() == 1


def test_the_racks_take_as_many_queries_for_twenty_batches_as_for_two(visitor: Visitor, world: World) -> None:
    place = each_place(world)
    ready_batch(world, position=place())
    world.batch(cut_days_ago=2)
    few = visitor.queries("racks")
    for _ in range(9):
        ready_batch(world, position=place())
        world.batch(cut_days_ago=2)
    # Session, person, membership, cures, places, sample bars, positions, racks; the count in the title.
    assert visitor.queries("racks") == few == 9


def test_a_position_takes_as_many_queries_for_twenty_batches_as_for_two(visitor: Visitor, world: World) -> None:
    here = world.position(world.rack(levels=1, places=1, capacity=500))
    ready_batch(world, position=here)
    world.batch(cut_days_ago=2)
    few = visitor.queries("position", here.pk)
    for _ in range(9):
        world.batch(cut_days_ago=2, position=here)
        world.batch(cut_days_ago=2)
    # Session, person, membership, position, cures, places, what is kept, batches to choose from; the count in the title.
    assert visitor.queries("position", here.pk) == few == 9


def test_a_batch_that_is_closed_leaves_no_trace_on_the_racks(visitor: Visitor, world: World) -> None:
    place = each_place(world)
    closed = world.batch(formula_name="Sold out", position=place())
    world.batch(formula_name="Still here", position=place())
    _close(world, closed)
    words = visitor.words("racks")
    assert "Sold out" not in words
    assert "1 batch, 24 bars" in words
