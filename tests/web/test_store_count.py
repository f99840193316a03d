"""The store count as its keeper walks it: lot after lot, blind, skipped, asked about, summed up."""

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse

from curehouse.flows.stock import count
from inventory.models import Count, Lot
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def lots(world: World) -> list[Lot]:
    """Return three lots in the order of the walk: fats before lye, first expired first."""
    today = world.now.date()
    oil, lye = world.material("Olive oil"), world.material("Sodium hydroxide", kind="lye")
    last = world.lot("777", material=lye)
    later = world.lot("5000", material=oil, best_before=today + timedelta(days=90))
    sooner = world.lot("1000", material=oil, best_before=today + timedelta(days=20))
    return [sooner, later, last]


def at(lot: Lot) -> str:
    return reverse("web:lot_walk", args=[lot.pk])


END = "/storeroom/count/end/"


def goes_on_at(visitor: Visitor) -> str:
    """Return where the page of the count leads by its one main act."""
    page = visitor.get("store_count").content.decode().partition('<div class="foot-act">')[2]
    return page.partition('href="')[2].partition('"')[0]


def test_the_walk_goes_by_kind_and_expiry_and_ends_with_what_it_came_to(
    world: World, visitor: Visitor, lots: list[Lot]
) -> None:
    first, second, last = lots
    assert goes_on_at(visitor) == at(first)
    assert visitor.post("lot_walk", first.pk, amount="1", unit="kg").url == at(second)
    asked = visitor.post("lot_walk", second.pk, amount="4.9", unit="kg")
    assert "5000 g are booked and 4900 g counted: say why" in asked.content.decode()
    assert 'value="4.9"' in asked.content.decode()
    assert 'name="reason"' in asked.content.decode()
    assert "optional" not in asked.content.decode()
    assert visitor.post("lot_walk", second.pk, amount="4.9", unit="kg", reason="dripped").url == at(last)
    words = visitor.words("store_count_end")
    assert "2 lots counted, 1 not as booked, 1 still to count" in words
    assert "4.9 kg counted, 5 kg booked: dripped" in words
    assert visitor.post("lot_walk", last.pk, amount="777", unit="g").url == END
    assert "3 lots counted, 1 not as booked, 0 not counted" in visitor.words("store_count_end")
    assert "No count is under way" in visitor.words("store_count")
    assert "Tue 10 Mar 3 lots counted, 1 not as booked" in visitor.words("store_count")
    assert list(Lot.objects.within(world.workshop).order_by("pk").values_list("on_hand", flat=True)) == [777, 4900, 1000]


def test_what_is_booked_is_not_shown_before_it_is_counted(visitor: Visitor, lots: list[Lot]) -> None:
    page = visitor.get("lot_walk", lots[2].pk).content.decode()
    assert "777" not in page
    assert 'name="reason"' not in page


def test_a_lot_skipped_is_left_and_the_walk_comes_back_to_it(visitor: Visitor, lots: list[Lot]) -> None:
    first, second, last = lots
    assert f'href="{at(second)}"' in visitor.get("lot_walk", first.pk).content.decode()
    assert visitor.post("lot_walk", second.pk, amount="5", unit="kg").url == at(last)
    assert visitor.post("lot_walk", last.pk, amount="777", unit="g").url == END
    assert at(first) in visitor.get("store_count_end").content.decode()
    assert goes_on_at(visitor) == at(first)


def test_a_lot_that_is_gone_counts_as_nothing_and_is_counted(visitor: Visitor, lots: list[Lot]) -> None:
    first, second, _last = lots
    assert visitor.post("lot_walk", first.pk, amount="0", unit="g", reason="used up").url == at(second)
    assert "1 of 3 counted" in visitor.words("lot_walk", second.pk)


def test_a_count_sent_twice_is_written_once(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    key = str(uuid.uuid4())
    first, second = (
        visitor.post("lot_walk", lots[0].pk, form_key=key, amount="900", unit="g", reason="spilt") for _ in range(2)
    )
    assert first.url == second.url
    assert Count.objects.within(world.workshop).count() == 1


@pytest.mark.parametrize(("amount", "said"), [("", "The count is missing"), ("-1", "The count"), ("some", "type figures")])
def test_what_is_no_count_is_said_beside_the_field(
    world: World, visitor: Visitor, lots: list[Lot], amount: str, said: str
) -> None:
    answer = visitor.post("lot_walk", lots[0].pk, amount=amount, unit="g")
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert not Count.objects.within(world.workshop).exists()


def test_yesterdays_count_is_not_todays(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000", received_on=world.now.date() - timedelta(days=9))
    yesterday: dict[str, Any] = {"moment": world.days_ago(1.5), "at": world.now}
    count(actor=world.actor, lot=lot, counted=Decimal(1000), **yesterday)
    assert goes_on_at(visitor) == at(lot)


def test_an_empty_store_has_nothing_to_count(visitor: Visitor) -> None:
    assert "There is nothing to count" in visitor.words("store_count")
    assert "There is nothing to count" in visitor.words("store_count_end")


def test_the_walk_takes_as_many_queries_however_many_lots_there_are(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    def queries() -> list[int]:
        return [visitor.queries("lot_walk", lots[0].pk), visitor.queries("store_count_end"), visitor.queries("store_count")]

    visitor.post("lot_walk", lots[0].pk, amount="1000", unit="g")
    few = queries()
    for number in range(8):
        more = world.lot("400", material=world.material(f"Oil {number}"))
        visitor.post("lot_walk", more.pk, amount="399", unit="g", reason="spilt")
    assert queries() == few


def test_a_strangers_lot_is_not_on_the_walk(visitor: Visitor) -> None:
    other = World(email="wren@thistlewick.example")
    assert visitor.get("lot_walk", other.lot("500").pk).status_code == 404
