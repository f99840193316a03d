"""What a batch took is said of few lots a line, however many there are; any other is named by its number."""

import re
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.making.models import Batch, BatchUse
from inventory.models import Lot
from inventory.services.brought import bring_lots
from inventory.services.lots import ReceiptEntry
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
MATERIALS, LOTS = 4, 2000
MOST_BYTES = 60_000


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("curehouse.web.access.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def full(world: World) -> list[Lot]:
    """Return 2,000 lots of four materials, all of which hold something."""
    day = world.days_ago(30).date()
    materials = [world.material(f"Oil {number}") for number in range(MATERIALS)]
    entries = [
        ReceiptEntry(materials[number % MATERIALS], Decimal(1000), day, standing="released", why="as received")
        for number in range(LOTS)
    ]
    return bring_lots(actor=world.actor, entries=entries, at=world.now)


def send(visitor: Visitor, batch: Batch, **line: Any) -> HttpResponse:
    sent = {"form_key": str(uuid.uuid4()), **line}
    return visitor.client.post(f"/batches/{batch.pk}/use/?lines=2", sent)


def test_the_page_offers_few_lots_of_the_materials_asked_for(world: World, visitor: Visitor, full: list[Lot]) -> None:
    batch = world.batch()
    asked = "&".join(f"material_{row}={full[row].material_id}&amount_{row}=1500&unit_{row}=g" for row in range(2))
    answer = visitor.get("batch_use", batch.pk, query=f"?{asked}")
    assert len(answer.content) < MOST_BYTES
    form = answer.context["form"]
    for row, material in enumerate([full[0].material, full[0].material, full[1].material, full[1].material]):
        offered = Lot.objects.within(world.workshop).filter(pk__in=[key for key, _ in form.fields[f"lot_{row}"].choices if key])
        assert {lot.material_id for lot in offered} == {material.pk}
        assert form[f"lot_{row}"].value() in dict(form.fields[f"lot_{row}"].choices)
    # A line that is still free offers those of both.
    names = " ".join(str(words) for _key, words in form.fields["lot_4"].choices)
    assert "Oil 0" in names and "Oil 1" in names and "Oil 2" not in names


def test_a_page_that_is_shown_again_is_as_small_and_offers_the_same(world: World, visitor: Visitor, full: list[Lot]) -> None:
    batch = world.batch()
    answer = visitor.get("batch_use", batch.pk, query=f"?material_0={full[0].material_id}&amount_0=1&unit_0=kg")
    (address,) = re.findall(r'action="([^"]*use/[^"]*)"', answer.content.decode())
    sent = {"form_key": str(uuid.uuid4()), "lot_0": full[0].pk, "amount_0": "-1", "unit_0": "g"}
    again = visitor.client.post(address.replace("&amp;", "&"), sent)
    assert len(again.content) < MOST_BYTES
    for row in range(2):
        choices = (dict(page.context["form"].fields[f"lot_{row}"].choices) for page in (answer, again))
        assert next(choices) == next(choices)


def test_any_lot_is_named_by_its_number(world: World, visitor: Visitor, full: list[Lot]) -> None:
    batch, last = world.batch(), full[-1]
    assert send(visitor, batch, number_0=f"Lot {last.number}", amount_0="10", unit_0="g").status_code == 302
    assert BatchUse.objects.within(world.workshop).get().movement.lot_id == last.pk
    # A number beside a choice is what counts, for it was typed.
    send(visitor, batch, lot_0=full[0].pk, number_0=f"{full[5].number}", amount_0="10", unit_0="g")
    assert BatchUse.objects.within(world.workshop).order_by("pk").last().movement.lot_id == full[5].pk


@pytest.mark.parametrize("number", ["999999", "31x", "²", "9" * 20])
def test_a_number_that_is_no_lot_of_the_house_is_said_beside_it(
    world: World, stranger: World, visitor: Visitor, number: str
) -> None:
    for _ in range(3):
        stranger.lot("100")
    for said in (number, "3"):
        answer = send(visitor, world.batch(), number_0=said, amount_0="10", unit_0="g")
        assert f"There is no lot {said} here of a material in use" in words_of(answer)
    assert not BatchUse.objects.within(world.workshop).exists()
