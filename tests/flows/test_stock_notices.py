"""What the morning says of the storeroom, and how it stays true until the next one."""

import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection

from curehouse.common import steps
from curehouse.flows import stock
from curehouse.flows.morning import begin_day
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from curehouse.notices.services import see_to
from inventory.models import Lot, Movement
from inventory.services.lots import LotPapers
from tests.world import World

pytestmark = pytest.mark.django_db


def morning(world: World, *, days: int = 0) -> None:
    assert begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=days)) is not None


def told(world: World, *kinds: str) -> list[Notice]:
    kinds = kinds or ("expiring", "expired")
    return list(Notice.objects.within(world.workshop).filter(kind__in=kinds).order_by("pk"))


def said(world: World) -> list[tuple[str, str]]:
    return [(one.title, one.state) for one in told(world)]


def take(world: World, lot: Lot, amount: str, *, days: int = 0) -> Movement:
    """Let a batch use some, and return what is booked of it."""
    at = world.now + timedelta(days=days)
    batch = Batch.objects.within(world.workshop).first() or world.batch()
    line = UseLine(lot, Decimal(amount), "nothing else was here")
    (use,) = book_use(actor=world.actor, batch=batch, lines=[line], used_at=at, at=at)
    return use.movement


def test_a_lot_is_told_once_before_its_day_and_once_after_it(world: World) -> None:
    lot = world.lot("1000", best_before=world.now.date() + timedelta(days=31))
    morning(world)
    assert told(world) == []
    morning(world, days=1)
    morning(world, days=31)
    (soon,) = told(world)
    assert (soon.title, soon.path) == ("Olive oil, lot 1 expires soon", f"/lots/{lot.pk}/")
    assert soon.body.splitlines() == ["1000 g left, best before Fri 10 Apr, today.", "Use it up first."]
    morning(world, days=32)
    morning(world, days=33)
    assert said(world) == [("Olive oil, lot 1 expires soon", "withdrawn"), ("Olive oil, lot 1 has expired", "open")]
    assert told(world)[0].closed_why == "It has expired."
    assert told(world)[1].body.splitlines()[0] == "1000 g left, best before Fri 10 Apr."


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("used up", "Nothing of it is left."),
        ("written off", "Nothing of it is left."),
        ("given back", "Nothing of it is left."),
        ("rejected", "It was rejected."),
        ("corrected", "Its best-before is another one now."),
    ],
)
def test_what_is_said_of_a_lot_ends_with_its_cause(world: World, change: str, why: str) -> None:
    lot = world.lot("1000", best_before=world.now.date() - timedelta(days=1))
    morning(world)
    what = {"actor": world.actor, "lot": lot, "at": world.now}
    leaves = {**what, "amount": Decimal(1000), "reason": "rancid", "moment": world.now}
    if change == "rejected":
        stock.rule_lot(**what, standing="rejected", why="rancid")
    elif change == "corrected":
        stock.correct_lot(**what, papers=LotPapers("", world.now.date() + timedelta(days=200), None), why="misread")
    elif change == "used up":
        take(world, lot, "1000")
    else:
        {"written off": stock.write_off, "given back": stock.give_back}[change](**leaves)
    assert [(one.state, one.closed_why) for one in told(world)] == [("withdrawn", why)]
    morning(world, days=1)
    assert len(told(world)) == 1


def test_a_lot_that_was_not_used_up_after_all_stands_again(world: World) -> None:
    lot = world.lot("1000", best_before=world.now.date() + timedelta(days=5))
    morning(world)
    used = take(world, lot, "1000")
    assert [one.state for one in told(world)] == ["withdrawn"]
    stock.reverse(actor=world.actor, movement=used, reason="another lot", at=world.now)
    assert [one.state for one in told(world)] == ["open"]


def test_a_lot_that_was_seen_to_is_quiet_until_it_has_expired(world: World) -> None:
    lot = world.lot("1000", best_before=world.now.date() + timedelta(days=5))
    morning(world)
    see_to(actor=world.actor, notice=told(world)[0], at=world.now)
    take(world, lot, "10")
    morning(world, days=1)
    assert [one.state for one in told(world)] == ["done"]
    morning(world, days=6)
    assert [one.kind for one in told(world)] == ["expiring", "expired"]


def test_another_best_before_that_is_near_too_is_said_of_the_same_notice(world: World) -> None:
    lot = world.lot("1000", best_before=world.now.date() + timedelta(days=5))
    morning(world)
    papers = LotPapers("", world.now.date() + timedelta(days=9), None)
    stock.correct_lot(actor=world.actor, lot=lot, papers=papers, why="misread", at=world.now)
    (notice,) = told(world)
    assert notice.state == "open"
    assert notice.body.splitlines()[0] == "1000 g left, best before Thu 19 Mar, in 9 days."


def test_a_lot_in_quarantine_is_told_with_what_to_do_first_and_a_rejected_one_not(world: World) -> None:
    soon = world.now.date() + timedelta(days=1)
    world.lot("1000", best_before=soon, standing="quarantine")
    world.lot("1000", best_before=soon, standing="rejected")
    morning(world)
    assert [one.body.splitlines()[:2] for one in told(world)] == [
        ["1000 g left, best before Wed 11 Mar, tomorrow.", "It is in quarantine: release it or reject it."]
    ]


@pytest.fixture
def short_statements(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let the database take 60 values in a statement, where it has such a limit, and the house go in steps of 20."""
    monkeypatch.setattr(steps, "A_STEP", 20)
    monkeypatch.setattr("curehouse.flows.stock_notices.A_STEP", 20)
    connection.ensure_connection()
    if connection.vendor == "sqlite":
        before = connection.connection.setlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER, 60)
        yield
        connection.connection.setlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER, before)
    else:
        yield


@pytest.mark.usefixtures("short_statements")
def test_one_movement_keeps_true_what_is_said_of_more_lots_than_a_statement_takes(world: World) -> None:
    oil = world.material()
    lots = [world.lot("100", material=oil, best_before=world.now.date() + timedelta(days=9)) for _ in range(70)]
    morning(world)
    assert len(told(world, "expiring")) == 70
    take(world, lots[-1], "100")
    assert [one.about for one in told(world, "expiring") if one.state != "open"] == [f"lot:{lots[-1].pk}"]
    renew_stock(workshop=world.workshop, at=world.now, material_ids=[oil.pk, *range(10**6, 10**6 + 70)])
    assert sum(one.state == "open" for one in told(world, "expiring")) == 69


def test_the_stock_of_another_house_is_not_told_here(world: World, stranger: World) -> None:
    stranger.lot(best_before=stranger.now.date())
    morning(world)
    assert told(world) == []


def test_a_morning_cut_off_between_tells_nothing_twice(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    world.lot(best_before=world.now.date())

    def killed(**_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("curehouse.flows.morning.tell_morning", killed)
        with pytest.raises(KeyboardInterrupt):
            begin_day(workshop_id=world.workshop.pk, at=world.now)
    assert told(world) == []
    morning(world)
    assert said(world) == [("Olive oil, lot 1 expires soon", "open")]
