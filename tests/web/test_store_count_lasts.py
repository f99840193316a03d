"""A store count that is broken off, goes past midnight, is shared by two, and holds what was only judged by eye."""

import csv
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from curehouse.flows.join import join
from curehouse.workshops.models import Member
from curehouse.workshops.services.invitations import invite
from inventory.balance import differences
from inventory.models import Count, Lot, StoreCount
from inventory.services.movements import use
from tests.factories import PersonFactory
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
END = "/storeroom/count/end/"


@pytest.fixture(autouse=True)
def clock(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


@pytest.fixture
def wren(world: World) -> Visitor:
    """Return a second person of the workshop, at another phone."""
    invitation, _secret = invite(actor=world.actor, role="helper", email="", at=world.now)
    person = PersonFactory(email="wren@fennelyard.example", name="Wren Aldous", at=world.now)
    join(invitation=invitation, person=person, at=world.now)
    other = Visitor(world)
    other.client.force_login(person)
    return other


@pytest.fixture
def lots(world: World) -> list[Lot]:
    """Return three lots of five kilograms, in the order of the walk."""
    today = world.now.date()
    return [world.lot("5000", best_before=today + timedelta(days=30 * number)) for number in (1, 2, 3)]


def at(lot: Lot) -> str:
    return reverse("web:lot_walk", args=[lot.pk])


def shown(visitor: Visitor, lot: Lot) -> dict[str, str]:
    """Open a lot on the walk; return what its page sends back unseen."""
    return hidden_of(visitor.get("lot_walk", lot.pk))


def hidden_of(answer: HttpResponse) -> dict[str, str]:
    form = answer.context["form"]
    return {field.name: str(field.value() or "") for field in form.hidden_fields()}


def keep(visitor: Visitor, lot: Lot, kilos: str, **more: Any) -> HttpResponse:
    sent = {**shown(visitor, lot), "amount": kilos, "unit": "kg", **more}
    return visitor.post("lot_walk", lot.pk, **sent)


def held(lot: Lot) -> tuple[Decimal, bool]:
    lot.refresh_from_db()
    return lot.on_hand, lot.is_estimated


def use_of(world: World, lot: Lot, grams: int, *, minutes_ago: float = 0) -> None:
    moment = world.now - timedelta(minutes=minutes_ago)
    use(actor=world.actor, lot=lot, amount=Decimal(grams), moment=moment, at=world.now)


def test_a_count_begun_before_midnight_goes_on_after_it(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    world.now = world.now.replace(hour=22, minute=50)
    keep(visitor, lots[0], "4,9", reason="dripped")
    world.now += timedelta(hours=10)
    words = visitor.words("store_count")
    assert "A count is under way, 2 lots left" in words
    assert "Begun Tue 10 Mar, 23:50, by Ottilie Brandt. Ottilie Brandt counted 1 lot; the last Tue 10 Mar, 23:50" in words
    assert "Fats 1 of 3 lots counted" in words
    assert f'href="{at(lots[1])}"' in visitor.get("store_count").content.decode()
    assert "1 of 3 counted" in visitor.words("lot_walk", lots[1].pk)
    keep(visitor, lots[1], "5")
    assert keep(visitor, lots[2], "5").url == END
    words = visitor.words("store_count_end")
    assert "3 lots counted, 1 not as booked, 0 not counted" in words
    assert "4.9 kg counted, 5 kg booked: dripped (Ottilie Brandt)" in words
    assert "Tue 10 Mar to Wed 11 Mar 3 lots counted, 1 not as booked" in visitor.words("store_count")
    assert StoreCount.objects.within(world.workshop).count() == 1


def test_what_was_used_after_the_figure_was_typed_is_no_difference(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    """Typed before midnight, the phone was out of reach of the house; sent the next morning, after a pour."""
    page = shown(visitor, lots[0])
    world.now += timedelta(hours=9)
    use_of(world, lots[0], 1200, minutes_ago=30)
    sent = visitor.post("lot_walk", lots[0].pk, **page | {"amount": "5", "unit": "kg", "typed_s": str(9 * 3600)})
    assert sent.url == at(lots[1])
    assert held(lots[0]) == (3800, False)
    assert Count.objects.within(world.workshop).get().moment == world.now - timedelta(hours=9)
    assert differences() == []


def test_what_is_used_while_the_reason_is_asked_is_no_difference(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    asked = keep(visitor, lots[0], "4.9")
    assert "5000 g are booked and 4900 g counted: say why" in asked.content.decode()
    world.now += timedelta(minutes=20)
    use_of(world, lots[0], 1000)
    answer = {**hidden_of(asked), "amount": "4.9", "unit": "kg", "reason": "dripped"}
    # Another figure is of its own moment, whatever was asked before; this one is the figure that was asked about.
    assert visitor.post("lot_walk", lots[0].pk, **answer).status_code == 302
    assert held(lots[0]) == (3900, False)
    asked = keep(visitor, lots[1], "4.9")
    world.now += timedelta(minutes=20)
    use_of(world, lots[1], 1000, minutes_ago=10)
    again = {**hidden_of(asked), "amount": "3.8", "unit": "kg", "reason": "dripped"}
    assert visitor.post("lot_walk", lots[1].pk, **again).status_code == 302
    assert held(lots[1]) == (3800, False)
    assert differences() == []


@pytest.mark.parametrize(
    ("hidden", "said"),
    [
        ({"typed_s": str(49 * 3600)}, "typed over two days ago: look again"),
        ({"typed_s": "9" * 30}, "typed over two days ago: look again"),
        ({"typed_s": "-5"}, "load it again"),
        ({"typed_s": "soon"}, "load it again"),
        ({"typed_at": "yesterday", "figure": "5 kg"}, "load it again"),
        ({"seen": "x"}, "load it again"),
        ({"store_count": "-1"}, "load it again"),
    ],
)
def test_a_page_that_says_nothing_sound_of_its_moment_is_typed_anew(
    world: World, visitor: Visitor, lots: list[Lot], hidden: dict[str, str], said: str
) -> None:
    answer = visitor.post("lot_walk", lots[0].pk, amount="5", unit="kg", **hidden)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert not Count.objects.within(world.workshop).exists()
    # What the page says by now is sound: sent again, it is counted as of now.
    assert keep(visitor, lots[0], "5").status_code == 302


def test_two_at_the_same_shelf_see_each_other(world: World, visitor: Visitor, wren: Visitor, lots: list[Lot]) -> None:
    mine = shown(visitor, lots[0])
    keep(wren, lots[0], "4.9", reason="dripped")
    # The next lot is offered to neither who counted it already.
    assert keep(visitor, lots[1], "5").url == at(lots[2])
    assert "Wren Aldous counted it Tue 10 Mar, 10:00" in visitor.words("lot_walk", lots[0].pk)
    assert "Wren Aldous counted 1 lot, Ottilie Brandt 1" in visitor.words("store_count")
    asked = visitor.post("lot_walk", lots[0].pk, **mine | {"amount": "4.7", "unit": "kg"})
    assert "Wren Aldous counted 4900 g at 10:00 on Tue 10 Mar, while you were at it. Look once more" in asked.content.decode()
    assert 'value="4.7"' in asked.content.decode()
    assert held(lots[0]) == (4900, False)
    answer = {**hidden_of(asked), "amount": "4.7", "unit": "kg", "reason": "it stood on the edge of the scale"}
    assert visitor.post("lot_walk", lots[0].pk, **answer).status_code == 302
    assert held(lots[0]) == (4700, False)
    words = visitor.words("store_count_end")
    assert "4.9 kg counted, 5 kg booked: dripped (Wren Aldous)" in words
    assert "4.7 kg counted, 4.9 kg booked: it stood on the edge of the scale (Ottilie Brandt)" in words
    assert "2 lots counted" in words


def test_who_looks_once_more_counts_as_of_then_and_not_as_of_before_the_other(
    world: World, visitor: Visitor, wren: Visitor, lots: list[Lot]
) -> None:
    mine = shown(visitor, lots[0])
    keep(wren, lots[0], "4.9", reason="dripped", typed_s="20")
    # Typed forty seconds before the other's figure, and sent after it: with the question they look once more.
    asked = visitor.post("lot_walk", lots[0].pk, **mine | {"amount": "4.7", "unit": "kg", "typed_s": "60"})
    assert held(lots[0]) == (4900, False)
    answer = {**hidden_of(asked), "amount": "4.7", "unit": "kg", "reason": "it stood on the edge of the scale"}
    assert visitor.post("lot_walk", lots[0].pk, **answer).status_code == 302
    assert held(lots[0]) == (4700, False), "what was kept after both looked is what is there"
    assert differences() == []


def test_less_than_nothing_is_refused_in_plain_words(visitor: Visitor, lots: list[Lot]) -> None:
    page = keep(visitor, lots[0], "-5").content.decode()
    assert "The count is 0 or more, and at most 9999999: check the figure." in page


def test_the_same_figure_as_the_others_is_kept_without_a_word(
    world: World, visitor: Visitor, wren: Visitor, lots: list[Lot]
) -> None:
    mine = shown(visitor, lots[0])
    keep(wren, lots[0], "4.9", reason="dripped")
    assert visitor.post("lot_walk", lots[0].pk, **mine | {"amount": "4.9", "unit": "kg"}).url == at(lots[1])


def test_a_figure_that_was_being_typed_as_the_other_counted_the_last_lot_begins_no_count(
    world: World, visitor: Visitor, wren: Visitor, lots: list[Lot]
) -> None:
    for lot in lots[:2]:
        keep(visitor, lot, "5")
    mine = shown(visitor, lots[2])
    assert keep(wren, lots[2], "5").url == END
    world.now += timedelta(minutes=1)
    sent = mine | {"amount": "4.8", "unit": "kg"}
    asked = visitor.post("lot_walk", lots[2].pk, **sent)
    assert visitor.post("lot_walk", lots[2].pk, **{**sent, **hidden_of(asked), "reason": "spilt"}).url == END
    assert StoreCount.objects.within(world.workshop).count() == 1
    assert "No count is under way" in visitor.words("store_count")


def test_what_the_lots_own_page_counts_is_of_the_count_and_asked_about_alike(
    world: World, visitor: Visitor, wren: Visitor, lots: list[Lot]
) -> None:
    keep(visitor, lots[0], "5")
    mine = hidden_of(visitor.get("lot_count", lots[1].pk))
    keep(wren, lots[1], "4.9", reason="dripped")
    asked = visitor.post("lot_count", lots[1].pk, **mine | {"amount": "4.7", "unit": "kg"})
    assert "Wren Aldous counted 4900 g" in asked.content.decode()
    answer = {**hidden_of(asked), "amount": "4.7", "unit": "kg", "reason": "weighed twice"}
    assert visitor.post("lot_count", lots[1].pk, **answer).status_code == 302
    assert "2 lots counted" in visitor.words("store_count_end")


def test_it_is_ended_by_hand_and_says_what_was_left(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    keep(visitor, lots[0], "5")
    begun = StoreCount.objects.within(world.workshop).get()
    ended = visitor.post("store_count_end", store_count=str(begun.pk))
    assert ended.url == reverse("web:store_count_was", args=[begun.pk])
    assert "1 lot counted, 0 not as booked, 2 not counted" in visitor.words("store_count_was", begun.pk)
    assert visitor.post("store_count_end", store_count=str(begun.pk)).status_code == 409
    assert visitor.post("store_count_end", store_count="soon").status_code == 404
    assert "No count is under way" in visitor.words("store_count")


def test_a_reader_sees_counts_and_is_offered_none(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    keep(visitor, lots[0], "5")
    Member.objects.within(world.workshop).update(role="reader")
    for name in ("store_count", "store_count_end"):
        page = visitor.get(name)
        assert page.status_code == 200
        assert "/walk/" not in page.content.decode()
        assert "End this count" not in page.content.decode()


def test_a_strangers_store_count_is_not_here(world: World, visitor: Visitor) -> None:
    other = World(email="heron@thistlewick.example")
    theirs = StoreCount.unscoped.create(workshop=other.workshop, begun_at=world.now)
    assert visitor.get("store_count_was", theirs.pk).status_code == 404
    assert visitor.post("store_count_end", store_count=str(theirs.pk)).status_code == 404


def test_what_the_eye_says_may_leave_the_book(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    asked = keep(visitor, lots[0], "4.5", is_estimate="on")
    page = asked.content.decode()
    assert "5000 g are booked and 4500 g judged by eye: say why" in page
    assert "May it be what is booked?" in page
    sent = {**hidden_of(asked), "amount": "4.5", "unit": "kg", "is_estimate": "on", "fits": "yes"}
    answer = visitor.post("lot_walk", lots[0].pk, **sent)
    assert answer.url == at(lots[1])
    assert held(lots[0]) == (5000, False)
    assert "by eye it may be what is booked, which stays" in visitor.words("lot_walk", lots[1].pk)
    assert "5 kg booked, and by eye it may be that" in visitor.words("lot", lots[0].pk)
    assert "1 lot counted, 0 not as booked, 1 judged by eye" in visitor.words("store_count_end")
    # Of what was weighed the book is not asked.
    assert "May it be" not in keep(visitor, lots[1], "4.5").content.decode()


def test_an_estimate_is_marked_wherever_its_figure_is_shown(world: World, visitor: Visitor, lots: list[Lot]) -> None:
    keep(visitor, lots[0], "3", is_estimate="on", reason="used and not written down")
    use_of(world, lots[0], 500)
    lot, material = lots[0].pk, lots[0].material_id

    def csv_of(name: str, *args: int) -> str:
        return b"".join(visitor.get(f"list_{name}_csv", *args).streaming_content).decode()

    for page, said in {
        ("lot", lot): "on hand ≈ 2.5 kg what it holds estimated, judged by eye, and not weighed or counted since",
        ("material", material): "usable ≈ 12.5 kg on hand ≈ 12.5 kg ≈: a part of it is estimated",
        ("storeroom",): "part of it estimated ≈ 12.5 kg",
        ("store_count_end",): "≈ 3 kg judged by eye, 5 kg booked: used and not written down (Ottilie Brandt) ≈ −2 kg",
    }.items():
        assert said in visitor.words(*page), page
    words = visitor.words("lot", lot)
    for said in ("corrected by a count, by eye", "≈ −2 kg then ≈ 3 kg", "then ≈ 2.5 kg", "≈ 3 kg judged by eye, 5 kg booked"):
        assert said in words, said
    assert "then 5 kg" in words
    assert "estimated, best before" in visitor.words("material", material)
    for name, args in {"lots": (), "movements": (), "lot_counts": (lot,), "materials": ()}.items():
        rows = list(csv.DictReader(csv_of(name, *args).removeprefix("\ufeff").splitlines()))
        assert [row for row in rows if row["Estimated"] in ("yes", "part of it")], name
    batch = world.batch(cut_days_ago=2)
    asked = f"?material_0={material}&amount_0=1&unit_0=kg"
    assert "lot 1: ≈ 2.5 kg" in visitor.words("batch_use", batch.pk, query=asked)
    world.now += timedelta(minutes=1)
    keep(visitor, lots[0], "2.5")
    assert held(lots[0]) == (2500, False)
    assert "on hand 2.5 kg" in visitor.words("lot", lot)
    assert differences() == []
