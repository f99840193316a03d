"""What is done to a batch: placed, moved, turned, checked, marked, taken out."""

import re
import uuid
from collections import Counter
from html import unescape
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from curehouse.curing.models import Cure, Occupancy, Placement, SampleBar
from curehouse.making.models import Batch, SafetyCheck, TakeOut
from curehouse.workshops.services import change_preferences
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import LIMIT, Visitor, dry_batch, pass_or_fail, ready_batch
from tests.world import World

FOUND = {"method": "pH strip", "value": "9.6", "note": "", "checked_at": ""}


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def _standing(world: World) -> dict[str, int]:
    held: Counter[str] = Counter()
    for row in Occupancy.objects.within(world.workshop).standing():
        held[str(row.position)] += row.bars
    return held


def _html(answer: HttpResponse) -> str:
    assert answer.status_code == 200
    return unescape(answer.content.decode())


@pytest.fixture
def limit(world: World) -> None:
    change_preferences(workshop=world.workshop, changes={"check_limit": LIMIT, "check_method": "pH strip"})


def test_bars_over_capacity_are_refused_with_two_ways_out(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=20)
    batch = world.batch()
    page = visitor.post("batch_place", batch.pk, position=world.position(rack).pk, bars="24", moved_at="")
    assert "holds 0 of 20 bars, so 24 more do not fit" in _html(page)
    assert "Raise it to 24" in text_of(page)
    assert "Put the other 4 elsewhere North wall, level 1, place 2" in text_of(page)
    assert 'value="24"' in _html(page)
    assert _standing(world) == {}


def test_the_capacity_is_raised_in_one_step(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=20)
    batch, place = world.batch(), world.position(rack)
    visitor.post("batch_place", batch.pk, position=place.pk, bars="24", moved_at="", when_full="raise")
    assert _standing(world) == {"North wall, level 1, place 1": 24}
    assert world.position(rack).capacity_bars == 24


def test_the_rest_goes_elsewhere_in_one_step(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=20)
    batch, place = world.batch(), world.position(rack)
    answer = visitor.post("batch_place", batch.pk, position=place.pk, bars="24", moved_at="", when_full="elsewhere")
    assert _standing(world) == {"North wall, level 1, place 1": 20, "North wall, level 1, place 2": 4}
    words = text_of(visitor.client.get(answer.url))
    assert "20 at North wall, level 1, place 1; 4 at North wall, level 1, place 2." in words


def test_what_is_promised_elsewhere_is_where_the_rest_goes(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=20)
    middle = world.position(rack, 2, 1)
    page = visitor.post("batch_place", world.batch().pk, position=middle.pk, bars="24", moved_at="")
    # Walking on from level 2, place 1, not from the start of the rack.
    assert "Put the other 4 elsewhere North wall, level 2, place 2" in text_of(page)


def test_without_any_free_place_only_raising_is_offered(visitor: Visitor, world: World) -> None:
    rack = world.rack(levels=1, places=1, capacity=20)
    page = visitor.post("batch_place", world.batch().pk, position=world.position(rack).pk, bars="24", moved_at="")
    assert "Raise it to 24" in text_of(page)
    assert "elsewhere" not in text_of(page)


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"bars": "25"}, "24 bars of Goat & oat 1 are without a place: place 1 to 24."),
        ({"bars": ""}, "The number of bars is missing: type a whole number."),
        ({"position": ""}, "The place is missing: choose one."),
        ({"position": "99999"}, "This is not in the list any more: choose another one."),
        ({"moved_at": "yesterday"}, "The time is not a day and a time"),
        ({"moved_at": "2026-03-11T09:00"}, "The time lies in the future"),
    ],
)
def test_a_placement_that_cannot_be_is_answered_with_a_remedy(
    visitor: Visitor, world: World, changes: dict[str, str], remedy: str
) -> None:
    place = world.position(world.rack(capacity=30))
    sent = {"position": place.pk, "bars": "24", "moved_at": "", **changes}
    assert remedy in _html(visitor.post("batch_place", world.batch().pk, **sent))
    assert _standing(world) == {}


def test_a_placement_sent_twice_is_made_once(visitor: Visitor, world: World) -> None:
    place, batch, key = world.position(world.rack(capacity=30)), world.batch(), str(uuid.uuid4())
    for _ in range(2):
        answer = visitor.post("batch_place", batch.pk, form_key=key, position=place.pk, bars="10", moved_at="")
        assert answer.status_code == 302
    assert _standing(world) == {"North wall, level 1, place 1": 10}


def test_bars_are_moved_and_their_history_is_shown(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=24)
    batch = world.batch(position=world.position(rack))
    assert "selected>North wall, level 1, place 1: 24 bars" in _html(
        visitor.get("batch_move", batch.pk, query=f"?from={world.position(rack).pk}")
    )
    sent = {"origin": world.position(rack).pk, "position": world.position(rack, 2, 2).pk, "bars": "10", "moved_at": ""}
    assert visitor.post("batch_move", batch.pk, **sent).status_code == 302
    visitor.post("batch_turn", batch.pk, position=world.position(rack).pk, moved_at="")
    assert _standing(world) == {"North wall, level 1, place 1": 14, "North wall, level 2, place 2": 10}
    history = visitor.words("batch", batch.pk).split("History of its places")[1]
    turned = history.index("14 bars turned at North wall, level 1, place 1")
    moved = history.index("10 bars moved from North wall, level 1, place 1 to North wall, level 2, place 2")
    placed = history.index("24 bars placed at North wall, level 1, place 1")
    assert turned < moved < placed


def test_a_move_over_capacity_is_refused_with_its_ways_out(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=24)
    batch = world.batch(position=world.position(rack))
    world.batch(position=world.position(rack, 1, 2), bars=20)
    sent = {"origin": world.position(rack).pk, "position": world.position(rack, 1, 2).pk, "bars": "10", "moved_at": ""}
    assert "Raise it to 30" in text_of(visitor.post("batch_move", batch.pk, **sent))
    visitor.post("batch_move", batch.pk, **sent, when_full="raise")
    assert _standing(world)["North wall, level 1, place 2"] == 30


def test_more_bars_than_stand_there_cannot_be_moved(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=24)
    batch = world.batch(position=world.position(rack))
    sent = {"origin": world.position(rack).pk, "position": world.position(rack, 1, 2).pk, "bars": "25", "moved_at": ""}
    assert "24 bars of Goat & oat 1 stand at North wall, level 1, place 1: move 1 to 24." in _html(
        visitor.post("batch_move", batch.pk, **sent)
    )


def test_a_check_is_made_by_the_makers_own_limit_beside_its_cautions(visitor: Visitor, world: World, limit: None) -> None:
    words = visitor.words("batch_check", dry_batch(world).pk)
    for said in (
        f"Your limit: {LIMIT}",
        "Good soap is alkaline by nature, so neutral is not the aim (common practice).",
        "Never with the tongue.",
        "On skin: brush dry lye off, take wet clothing off, running water at once for at least 15 minutes.",
        "call the poison centre",
        "Local law",
    ):
        assert said in words
    assert 'value="pH strip"' in visitor.get("batch_check", dry_batch(world).pk).content.decode()


def test_a_passed_check_makes_a_dry_batch_ready_and_stays_on_record(visitor: Visitor, world: World, limit: None) -> None:
    batch = dry_batch(world)
    sent = {"method": "pH strip", "value": "9.6", "passed": "passed", "note": "two bars", "checked_at": ""}
    assert visitor.post("batch_check", batch.pk, **sent).status_code == 302
    words = visitor.words("batch", batch.pk)
    assert f"pH strip: 9.6 Tue 10 Mar, 10:00, Ottilie Brandt. By the limit: {LIMIT}. two bars ✓ passed" in words


def test_a_check_without_a_written_limit_is_refused_and_leads_to_writing_it(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    assert "To pass, a batch needs your own written limit first." in visitor.words("batch_check", batch.pk)
    page = visitor.post("batch_check", batch.pk, **FOUND, passed="passed")
    assert "Write down your own limit first (workshop, safety check)" in _html(page)
    assert not SafetyCheck.objects.within(world.workshop).exists()
    # The way there leads back to the check.
    link = re.search(r'class="button" href="([^"]+)">Write down your limit', page.content.decode())[1]
    written = {"form_key": str(uuid.uuid4()), "check_method": "pH strip", "check_limit": LIMIT}
    assert visitor.client.post(unescape(link), written).url == reverse("web:batch_check", args=[batch.pk])
    words = visitor.words("batch_check", batch.pk)
    assert (f"Your limit: {LIMIT}" in words, "Write down your limit" in words) == (True, False)
    assert visitor.post("batch_check", batch.pk, **FOUND, passed="passed").status_code == 302


def test_a_failed_check_needs_no_written_limit_and_holds_the_bars_back(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    assert "A fail can be kept without one." in visitor.words("batch_check", batch.pk)
    assert visitor.post("batch_check", batch.pk, **FOUND, passed="failed").status_code == 302
    words = visitor.words("batch", batch.pk)
    assert "Ottilie Brandt. No limit was written down. ✕ failed" in words
    assert "Its last check failed: these bars go to nobody." in words


def test_the_way_back_from_the_limit_stays_in_the_house(visitor: Visitor, world: World) -> None:
    sent = {"form_key": str(uuid.uuid4()), "check_method": "", "check_limit": LIMIT}
    address = reverse("web:check_rule") + "?next=//elsewhere.example/"
    assert visitor.client.post(address, sent).url == reverse("web:workshop")


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"passed": ""}, "Passed or failed is missing: choose one, by your own limit."),
        ({"method": ""}, "The method is missing: type what you tested with."),
        ({"value": ""}, "The value found is missing: type what you read."),
        ({"checked_at": "2026-01-01T09:00"}, "its time must not come before the cut"),
        ({"checked_at": "2026-03-11T09:00"}, "The check lies in the future: enter it once it is made."),
    ],
)
def test_a_check_that_cannot_be_keeps_what_was_typed(
    visitor: Visitor, world: World, limit: None, changes: dict[str, str], remedy: str
) -> None:
    sent = {"method": "strip of mine", "value": "9.6", "passed": "passed", "note": "", "checked_at": "", **changes}
    page = _html(visitor.post("batch_check", dry_batch(world).pk, **sent))
    assert remedy in page
    assert f'value="{sent["method"] or sent["value"]}"' in page
    assert not SafetyCheck.objects.within(world.workshop).exists()


def _take(visitor: Visitor, batch: Batch, **changes: Any) -> HttpResponse:
    sent = {"bars": "24", "purpose": "sale", "forced_reason": "", "taken_at": "", **changes}
    return visitor.post("batch_take_out", batch.pk, **sent)


def test_a_ready_batch_is_taken_out_and_its_places_are_free(visitor: Visitor, world: World) -> None:
    batch = ready_batch(world, position=world.position(world.rack(capacity=24)))
    assert "Why now" not in visitor.words("batch_take_out", batch.pk)
    assert _take(visitor, batch).status_code == 302
    assert _standing(world) == {}
    assert Batch.objects.within(world.workshop).get().state == "closed"
    assert Placement.objects.within(world.workshop).filter(act="taken", bars=24).exists()


def test_a_batch_that_is_not_ready_leaves_only_with_a_reason(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    refused = _html(_take(visitor, batch, bars="6"))
    assert "The reason is missing: type it." in refused
    assert not TakeOut.objects.within(world.workshop).exists()
    assert _take(visitor, batch, bars="6", forced_reason="asked for at the fair").status_code == 302
    words = visitor.words("batch", batch.pk)
    assert "not ready then: asked for at the fair" in words
    assert "18 of 24 bars are left." in words


@pytest.mark.parametrize("purpose", ["sale", "gift", "kept"])
def test_bars_whose_last_check_failed_go_to_nobody(visitor: Visitor, world: World, purpose: str) -> None:
    batch = dry_batch(world)
    pass_or_fail(world, batch, passed=False)
    words = visitor.words("batch_take_out", batch.pk)
    assert "Its last safety check failed, so these bars go to nobody." in words
    assert "to sell" not in words
    page = _html(_take(visitor, batch, purpose=purpose, forced_reason="the fair"))
    assert "The last safety check failed, so these bars go to nobody" in page
    assert not TakeOut.objects.within(world.workshop).exists()


def test_bars_whose_last_check_failed_can_be_destroyed(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    pass_or_fail(world, batch, passed=False)
    assert "these bars go to nobody" in visitor.words("batch", batch.pk)
    assert _take(visitor, batch, purpose="destroyed", forced_reason="failed twice").status_code == 302
    assert Batch.objects.within(world.workshop).get().state == "closed"


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"bars": "25"}, "has 24 bars left: take 1 to 24."),
        ({"purpose": ""}, "The purpose is missing: choose what the bars are for."),
        ({"taken_at": "2025-01-01T10:00"}, "The time must lie between the cut and now."),
    ],
)
def test_taking_out_what_cannot_be_taken_is_answered_with_a_remedy(
    visitor: Visitor, world: World, changes: dict[str, str], remedy: str
) -> None:
    assert remedy in _html(_take(visitor, ready_batch(world), **changes))
    assert not TakeOut.objects.within(world.workshop).exists()


def test_bars_taken_out_twice_by_a_double_tap_leave_once(visitor: Visitor, world: World) -> None:
    batch, key = ready_batch(world), str(uuid.uuid4())
    for _ in range(2):
        _take(visitor, batch, bars="5", form_key=key)
    assert Batch.objects.within(world.workshop).get().bars_left == 19


def test_a_batch_never_checked_says_so_before_its_bars_leave(visitor: Visitor, world: World) -> None:
    assert "Never checked for alkalinity." in visitor.words("batch_take_out", dry_batch(world).pk)
    assert "Never checked" not in visitor.words("batch_take_out", ready_batch(world).pk)


def test_more_bars_than_are_no_sample_bars_asks_which_of_them_go(visitor: Visitor, world: World) -> None:
    batch = ready_batch(world)
    assert "24 bars of Goat & oat 1 are left, 3 of them sample bars (A, B, C)." in visitor.words("batch_take_out", batch.pk)
    page = _html(_take(visitor, batch, bars="23"))
    assert "Only 21 of these 23 bars can be others: tick at least 2 of the sample bars." in page
    assert not TakeOut.objects.within(world.workshop).exists()
    assert _take(visitor, batch, bars="23", sample_bars=["A", "C"]).status_code == 302
    words = visitor.words("batch", batch.pk)
    assert "1 of 24 bars are left." in words
    assert "B is weighed every week." in words
    assert "Gone: A (taken out to sell); C (taken out to sell)." in words
    assert "Every bar of Goat & oat 1 that is left is a sample bar." in _html(
        visitor.post("batch_mark", batch.pk, sample_bars="1")
    )


def test_a_sample_bar_may_go_while_others_are_left(visitor: Visitor, world: World) -> None:
    batch = ready_batch(world)
    assert "Name at most 1" in _html(_take(visitor, batch, bars="1", sample_bars=["A", "B"]))
    assert _take(visitor, batch, bars="1", sample_bars=["B"]).status_code == 302
    words = visitor.words("batch", batch.pk)
    assert "A, C are weighed every week." in words
    assert "23 of 24 bars are left." in words


@pytest.mark.parametrize("act", ["batch_check", "batch_place", "batch_move", "batch_turn", "batch_take_out", "batch_mark"])
def test_a_closed_batch_offers_no_forms(visitor: Visitor, world: World, act: str) -> None:
    batch = ready_batch(world)
    _take(visitor, batch)
    assert visitor.get(act, batch.pk).status_code == 409
    page = _html(visitor.get("batch", batch.pk))
    assert reverse(f"web:{act}", args=[batch.pk]) not in page


def test_more_sample_bars_get_the_next_letters(visitor: Visitor, world: World) -> None:
    batch = world.batch(sample_bars=3)
    assert visitor.post("batch_mark", batch.pk, sample_bars="2").status_code == 302
    assert "A, B, C, D, E are weighed every week." in visitor.words("batch", batch.pk)
    assert "Mark between 1 and 7 sample bars" in _html(visitor.post("batch_mark", batch.pk, sample_bars="8"))


def test_when_every_letter_is_used_no_more_bars_are_marked(visitor: Visitor, world: World) -> None:
    batch = world.batch(sample_bars=12)
    page = visitor.post("batch_mark", batch.pk, sample_bars="1")
    assert "All letters from A to L are used in Goat & oat 1." in _html(page)


def test_a_bar_that_is_gone_is_not_weighed_any_more(visitor: Visitor, world: World) -> None:
    batch = world.batch(sample_bars=2)
    bar = world.bar(batch, "B")
    assert "What became of it is missing: type it." in _html(visitor.post("bar_gone", bar.pk, why=" "))
    assert visitor.post("bar_gone", bar.pk, why="sold early").status_code == 302
    words = visitor.words("batch", batch.pk)
    assert "A is weighed every week." in words
    assert "Gone: B (sold early)." in words


def test_marking_bars_after_the_last_one_went_makes_the_batch_due_again(visitor: Visitor, world: World) -> None:
    batch = world.batch(sample_bars=1)
    visitor.post("bar_gone", world.bar(batch).pk, why="broken")
    assert Cure.objects.within(world.workshop).get().due_on is None
    visitor.post("batch_mark", batch.pk, sample_bars="1")
    assert Cure.objects.within(world.workshop).get().due_on is not None
    assert SampleBar.objects.within(world.workshop).on_the_rack().get().letter == "B"


@pytest.mark.parametrize("act", ["batch_place", "batch_move", "batch_turn", "batch_take_out", "batch_mark"])
def test_nothing_is_done_to_a_batch_that_is_not_on_the_racks(visitor: Visitor, world: World, act: str) -> None:
    batch = world.batch(cut_days_ago=None, poured_at=world.days_ago(1))
    answer = visitor.get(act, batch.pk)
    assert answer.status_code == 409
    assert "has no bars on the racks" in unescape(answer.content.decode())


def test_a_batch_in_the_mould_is_not_checked(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=None, poured_at=world.days_ago(1))
    assert visitor.get("batch_check", batch.pk).status_code == 409


def test_what_is_refused_leads_back_to_the_batch(visitor: Visitor, world: World) -> None:
    batch = world.batch()
    back = f'href="{reverse("web:batch", args=[batch.pk])}">Back to Goat & oat 1<'
    taken = {"client_id": str(uuid.uuid4())}
    reading = world.weigh(world.bar(batch), "118.0", moment=world.now)
    assert back in unescape(visitor.post("reading_take", reading.pk, **taken).content.decode())
    _take(visitor, batch, forced_reason="the fair")
    assert back in unescape(visitor.get("batch_mark", batch.pk).content.decode())


def test_what_is_not_here_leads_to_today(visitor: Visitor) -> None:
    assert 'href="/">Go to Today<' in visitor.get("batch_mark", 999).content.decode()
