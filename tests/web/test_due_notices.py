"""What Today asks to be weighed stays true when the days move, at once and not the next morning."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import Cure, Reading
from curehouse.flows.end_bar import end_bar
from curehouse.flows.morning import begin_day
from curehouse.flows.weigh import strike
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from curehouse.notices.services import see_to
from tests.web.on_round import set_clock
from tests.web.reading_pages import send
from tests.web.test_workshop_pages import PREFERENCES
from tests.world import World

TUESDAY, SATURDAY = "1", "5"


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


@pytest.fixture
def batch(world: World) -> Batch:
    """Return a batch weighed a week ago, which the morning of Tuesday 10 March says is due."""
    batch = world.batch(cut_days_ago=14)
    world.weigh(world.bar(batch), "120.0", moment=world.days_ago(7))
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    assert notices(world) == [("open", "", "2026-03-10")]
    return batch


def notices(world: World) -> list[tuple[str, str, str]]:
    rows = Notice.objects.within(world.workshop).of_kind("weigh").order_by("pk")
    return [(row.state, row.closed_why, row.key.rpartition(":")[2]) for row in rows]


def choose_round(maker: Client, *days: str, **changes: str) -> None:
    send(maker, "preferences", **{**PREFERENCES, "round_days": list(days), **changes})


def test_a_round_moved_to_another_day_takes_the_notice_back_and_says_when(maker: Client, world: World, batch: Batch) -> None:
    choose_round(maker, SATURDAY)
    assert notices(world) == [("withdrawn", "It is next to be weighed on Sat 14 Mar.", "2026-03-10")]


def test_a_round_moved_away_and_back_asks_again(maker: Client, world: World, batch: Batch) -> None:
    choose_round(maker, SATURDAY)
    choose_round(maker, TUESDAY)
    assert notices(world) == [("open", "", "2026-03-10")]


def test_a_round_moved_to_an_earlier_day_keeps_one_notice_that_says_that_day(maker: Client, world: World, batch: Batch) -> None:
    choose_round(maker, "0")
    assert notices(world) == [("open", "", "2026-03-09")]


def test_what_a_person_has_seen_to_is_not_asked_again_for_that_day(maker: Client, world: World, batch: Batch) -> None:
    see_to(actor=world.actor, notice=Notice.objects.within(world.workshop).get(kind="weigh"), at=world.now)
    choose_round(maker, SATURDAY)
    choose_round(maker, TUESDAY)
    begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1))
    assert [state for state, _, _ in notices(world)] == ["done"]


def test_the_last_sample_bar_gone_takes_the_notice_back(maker: Client, world: World, batch: Batch) -> None:
    for letter in "AB":
        send(maker, "bar_gone", world.bar(batch, letter).pk, why="sold early")
        assert [state for state, _, _ in notices(world)] == ["open"]
    send(maker, "bar_gone", world.bar(batch, "C").pk, why="sold early")
    assert notices(world) == [("withdrawn", "No sample bar of it is left to weigh.", "2026-03-10")]


def test_bars_marked_anew_bring_the_notice_back(maker: Client, world: World, batch: Batch) -> None:
    for letter in "ABC":
        end_bar(actor=world.actor, bar=world.bar(batch, letter), why="sold early", at=world.now)
    send(maker, "batch_mark", batch.pk, sample_bars="3")
    assert notices(world) == [("open", "", "2026-03-10")]


def test_all_bars_taken_out_close_the_notice(maker: Client, world: World, batch: Batch) -> None:
    send(maker, "batch_take_out", batch.pk, bars="24", purpose="destroyed", forced_reason="it fell")
    assert notices(world) == [("done", "The batch was taken out.", "2026-03-10")]


def test_a_weighing_struck_out_again_brings_the_notice_back(world: World, batch: Batch) -> None:
    row = world.weigh(world.bar(batch), "118.9", moment=world.now)
    assert notices(world) == [("done", "The batch was weighed.", "2026-03-10")]
    strike(actor=world.actor, reading=row, reason="another batch", at=world.now)
    assert notices(world) == [("open", "", "2026-03-10")]


def test_a_weighing_of_long_ago_leaves_the_batch_due(world: World, batch: Batch) -> None:
    world.weigh(world.bar(batch, "B"), "121.0", moment=world.days_ago(8))
    assert notices(world) == [("open", "", "2026-03-10")]


def test_a_batch_of_another_workshop_is_left_alone(maker: Client, world: World, stranger: World, batch: Batch) -> None:
    theirs = stranger.batch(cut_days_ago=14)
    begin_day(workshop_id=stranger.workshop.pk, at=stranger.now)
    choose_round(maker, SATURDAY)
    assert Notice.objects.within(stranger.workshop).open().of_kind("weigh").get().about == f"batch:{theirs.pk}"


def test_today_asks_for_nothing_that_is_not_due(maker: Client, world: World, batch: Batch) -> None:
    choose_round(maker, SATURDAY)
    page = maker.get(reverse("web:notices")).content.decode()
    assert "It is next to be weighed on Sat 14 Mar." in page
    assert Cure.objects.within(world.workshop).due(on=world.now.date()).count() == 0
    assert Reading.objects.within(world.workshop).count() == 1
