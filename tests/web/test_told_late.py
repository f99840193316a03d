"""What is told late of the storeroom: the pages say what a count had already, and of which day a list tells."""

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from inventory.models import Lot, Movement
from inventory.services.movements import count, receive_more, use
from tests.web.reading_pages import words_of
from tests.web.test_imports import _folder, as_shown, check, laid, worked
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def counted(world: World) -> Lot:
    """Return a lot of 500 g of which 400 were counted yesterday."""
    lot = world.lot("500")
    count(actor=world.actor, lot=lot, counted=Decimal(400), moment=world.days_ago(1), at=world.now, reason="weighed")
    world.now += timedelta(minutes=5)
    return lot


def typed(world: World, days_ago: float) -> str:
    return f"{world.days_ago(days_ago):%Y-%m-%dT%H:%M}"


def followed(visitor: Visitor, answer: HttpResponse) -> str:
    assert answer.status_code == 302, words_of(answer)
    return words_of(visitor.client.get(answer.url))


def test_a_late_use_says_what_the_count_lacked_already(world: World, visitor: Visitor, counted: Lot) -> None:
    batch = world.batch()
    line = {"lot_0": counted.pk, "amount_0": "100", "unit_0": "g", "used_at": typed(world, 2)}
    sent = {"form_key": str(uuid.uuid4()), **line}
    words = followed(visitor, visitor.client.post(f"/batches/{batch.pk}/use/?lines=1", sent))
    assert "Olive oil, lot 1: It was lacking at the count of 2026-03-09 already: on hand stays 400 g." in words
    story = visitor.words("lot", counted.pk)
    assert "400 g counted, 300 g booked" in story
    assert "lacking at the count of 2026-03-09 already" in story


@pytest.mark.parametrize(("page", "was"), [("lot_write_off", "lacking"), ("lot_give_back", "lacking"), ("lot_more", "there")])
def test_so_does_whatever_else_is_told_late(world: World, visitor: Visitor, counted: Lot, page: str, was: str) -> None:
    told: dict[str, Any] = {"amount": "50", "unit": "g", "reason": "spilt"}
    words = followed(visitor, visitor.post(page, counted.pk, **told, moment=typed(world, 3)))
    assert f"It was {was} at the count of 2026-03-09 already: on hand stays 400 g." in words
    assert "On hand now: " in followed(visitor, visitor.post(page, counted.pk, **told))


def test_what_is_taken_back_from_before_a_count_says_so(world: World, visitor: Visitor, counted: Lot) -> None:
    words = followed(visitor, visitor.post("movement_take_back", counted.movements.get(kind="receive").pk, reason="a slip"))
    assert "It was lacking at the count of 2026-03-09 already: on hand stays 400 g." in words
    follows = Movement.objects.within(world.workshop).get(count_of__restates__isnull=False)
    assert "This row follows from a count" in words_of(visitor.post("movement_take_back", follows.pk, reason="a slip"))


def test_the_day_of_receipt_is_corrected_on_the_lots_page(world: World, visitor: Visitor) -> None:
    lot = world.lot("500")
    sent = {"supplier_lot": "BM-1", "best_before": "", "cost": "", "why": "a slip"}
    words = followed(visitor, visitor.post("lot_correct", lot.pk, **sent, received_on="2026-01-31"))
    assert "the day of receipt: 2026-02-08 became 2026-01-31" in words
    future = words_of(visitor.post("lot_correct", lot.pk, **sent, received_on="2026-03-31"))
    assert "The day of receipt lies in the future" in future


def test_a_stock_list_tells_of_a_day_that_is_said(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, "material,kind,amount,received\nOlive oil,fat,5.5 kg,2026-01-05\n", kind="stock")
    assert "The list tells what was there on" in visitor.words("import", brought.pk)
    sent = {**as_shown(visitor, brought), "as_of": "yesterday"}
    assert "is no date" in words_of(visitor.post("import", brought.pk, **sent))
    check(visitor, brought, as_of="2026-03-01 18:30")
    assert "taken as what was there on 2026-03-01 18:30" in visitor.words("import", brought.pk)
    visitor.post("import_bring", brought.pk)
    worked(world, brought)
    lot = Lot.objects.within(world.workshop).get()
    assert "5.5 kg on the stock list" in visitor.words("lot", lot.pk)


def test_only_a_stock_list_is_asked_of_which_day_it_tells(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, "name,phone\nOil & Co,+49 (0) 89 123\n", kind="suppliers")
    assert "The list tells what was there on" not in visitor.words("import", brought.pk)


def test_what_follows_from_a_use_offers_no_way_back_of_its_own(world: World, visitor: Visitor, counted: Lot) -> None:
    use(actor=world.actor, lot=counted, amount=Decimal(700), moment=world.now, at=world.now)
    receive_more(actor=world.actor, lot=counted, amount=Decimal(5), moment=world.days_ago(2), at=world.now)
    page = visitor.client.get(f"/lots/{counted.pk}/").content.decode()
    offered = {pk for pk in counted.movements.values_list("pk", flat=True) if f"/movements/{pk}/" in page}
    told = counted.movements.exclude(count_of__for_use__isnull=False).exclude(count_of__restates__isnull=False)
    assert offered == set(told.values_list("pk", flat=True))
    assert (len(offered), counted.movements.count()) == (4, 6)


def test_a_long_story_shows_no_less_than_nothing_on_any_page(world: World, visitor: Visitor) -> None:
    lot, moment = world.lot("30"), world.days_ago(1)
    for _ in range(45):
        world.now += timedelta(seconds=1)
        use(actor=world.actor, lot=lot, amount=Decimal(1), moment=moment, at=world.now)
    then = [f"then {left} g" for left in (30, 29, 20)]
    words = visitor.client.get(f"/lots/{lot.pk}/?page=2").content.decode()
    assert all(f">{one}<" in words for one in then)
    assert not any(f"then {minus}" in words for minus in "-−")
