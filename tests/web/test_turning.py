"""The page of bars to be turned."""

import pytest
from django.urls import reverse

from curehouse.curing.models import Turning
from curehouse.workshops.models import AuditEntry
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def test_all_are_ticked_and_turned_in_one_deed(world: World, visitor: Visitor) -> None:
    rack = world.rack()
    first, second = (
        world.batch(cut_days_ago=days, position=world.position(rack, 1, place)) for days, place in ((8, 1), (9, 2))
    )
    page = visitor.get("turning").content.decode()
    assert page.count("checked>") == 2
    words = visitor.words("turning")
    assert "North wall, level 1, place 1: 24 bars" in words
    assert "due since Mon 9 Mar" in words
    assert "Weighing does not count" in words
    deeds = AuditEntry.objects.within(world.workshop).count()
    assert visitor.post("turning", batches=[first.pk, second.pk], turned_at="").status_code == 302
    assert sorted(Turning.objects.within(world.workshop).values_list("batch", flat=True)) == [first.pk, second.pk]
    (*_before, said) = AuditEntry.objects.within(world.workshop).order_by("pk")[deeds:]
    assert said.said == f"Turned all bars: {first}, {second}"
    assert "No bars are to be turned today." in visitor.words("turning")
    for page in ("batch", "batch_record"):
        assert "All bars turned Tue 10 Mar, 10:00, Ottilie Brandt." in visitor.words(page, first.pk)


def test_only_those_ticked_are_turned_and_what_is_wrong_is_said_beside_it(world: World, visitor: Visitor) -> None:
    first, second = world.batch(cut_days_ago=8), world.batch(cut_days_ago=9)
    assert "No batch is ticked: tick those whose bars you turned." in visitor.post("turning").content.decode()
    page = visitor.post("turning", batches=[second.pk], turned_at="2026-03-11T10:00").content.decode()
    assert "The time lies in the future: enter it once the bars are turned." in page
    assert page.count("checked>") == 1
    assert visitor.post("turning", batches=[second.pk], turned_at="2026-03-09T10:00").status_code == 302
    assert str(first) in visitor.words("turning")
    assert str(second) not in visitor.words("turning")


def test_the_days_are_chosen_with_the_preferences(world: World, visitor: Visitor) -> None:
    sent = {
        "workshop_name": world.workshop.name, "unit": "g", "time_zone": world.workshop.time_zone, "currency": "EUR",
        "round_days": ["0"], "morning_at": "06:30", "turn_every_days": "", "turn_for_days": "21",
    }  # fmt: skip
    assert visitor.post("preferences", **sent).status_code == 302
    world.workshop.refresh_from_db()
    assert (world.workshop.turn_every_days, world.workshop.turn_for_days) == (None, 21)
    assert "Nobody is reminded to turn bars" in visitor.words("turning")
    refused = visitor.post("preferences", **sent | {"turn_every_days": "29"}).content.decode()
    assert "How often bars are turned is a whole number from 1 to 28: check the figure." in refused


def test_it_takes_as_many_queries_for_many_batches_as_for_one(world: World, visitor: Visitor) -> None:
    rack = world.rack(levels=2, places=4)
    world.batch(cut_days_ago=8, position=world.position(rack))
    few = visitor.queries("turning")
    for place in (2, 3, 4):
        world.batch(cut_days_ago=8, position=world.position(rack, 1, place))
    assert visitor.queries("turning") == few


def test_the_racks_lead_there(world: World, visitor: Visitor) -> None:
    world.rack()
    assert reverse("web:turning") in visitor.get("racks").content.decode()
