"""Every list of the house can be taken along as CSV and XLSX: as shown, all of it, and run by nobody."""

import csv
import io
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse
from openpyxl import load_workbook

from curehouse.web.routes.lists import LISTS
from inventory.services.movements import write_off
from inventory.services.things import retire_material
from tests.architecture.addresses import NAMED_BY
from tests.everything import row_of, with_everything
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
TEMPLATES = Path(__file__).resolve().parents[2] / "curehouse" / "web" / "templates" / "web"
# What looks like a list and is none, and why.
NO_LIST = {
    "people/sessions.html": "where one is signed in, which ends with the browser",
    "people/workshops.html": "which workshop to be at work in",
    "formulas/_findings.html": "what is found about one formula, worked out anew each time",
    "formulas/_counted.html": "what the fats of one formula take, in the list of formulas",
    "formulas/_weigh.html": "what to weigh of one formula, in the list of formulas",
    "formulas/scale.html": "one formula in a size, worked out and not kept",
    "runs/_materials.html": "how one run stands, worked out anew each time",
    "runs/plan.html": "what one run would meet, worked out anew each time",
    "runs/_plan_parts.html": "the same",
    "runs/compare.html": "what some runs would meet, worked out anew each time",
    "runs/calendar.html": "what is to come, worked out anew each time",
    "runs/markets.html": "the few days that bars are wanted on, which the API lists",
    "runs/_places.html": "how the places of one run stand, worked out anew each time",
    "storeroom/offer.html": "what one thing cost before, in the list of what its supplier sells",
    "runs/run.html": "one run, in the list of runs",
    "formulas/formula.html": "one formula, in the list of formulas",
    "workshop/workshop.html": "the workshop's own pages",
    "racks/turning.html": "whose bars are to be turned today, worked out anew each time",
    "today/_first_steps.html": "what to do first",
    "today/_rows.html": "what asks for a hand, kept in the lists of batches and notices",
    "today/today.html": "the same",
    "round/end.html": "what the round did, kept in the weighings",
    "storeroom/store_count_end.html": "what the count did, kept in the counts of the lots",
    "orders/_why.html": "why the lines of one order stand there, worked out anew each morning",
    "batch/_went_in.html": "what went in, in the list of batches",
    "batch/_foretold.html": "the figures of the drawn curve, foretold anew with each weighing",
    "batch/record.html": "one batch on a sheet to print, whose lists stand on its page",
    "batch/label.html": "how one label weight is got, worked out anew each time",
    "past/_source.html": "tables of the page that includes it, which offers the list",
    "racks/rack.html": "one rack, in the list of racks",
    "racks/position.html": "one place, in the list of racks",
    "storeroom/_offer_rows.html": "the rows of lists that include it",
    "storeroom/recipe.html": "how one material was made so far, which the API tells",
    "storeroom/_made.html": "what one material is made from, which the API tells",
    "storeroom/_origin.html": "what is in one lot and what it is in, which the API tells",
    "storeroom/_lot_rows.html": "the rows of lists that include it",
}


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def content_of(answer: HttpResponse) -> bytes:
    assert answer.status_code == 200
    return b"".join(answer.streaming_content)


def as_csv(visitor: Visitor, name: str, *args: int, query: str = "") -> list[list[str]]:
    text = content_of(visitor.get(f"list_{name}_csv", *args, query=query)).decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline="")))


def as_xlsx(visitor: Visitor, name: str, *args: int) -> list[list[Any]]:
    book = load_workbook(io.BytesIO(content_of(visitor.get(f"list_{name}_xlsx", *args))))
    return [[cell.value for cell in row] for row in book.active.iter_rows()]


def of_everything(world: World) -> Iterator[tuple[str, tuple[int, ...]]]:
    """Yield each list with the keys that fill its address."""
    for one in LISTS:
        word = re.search(r"([\w-]+)/<int:pk>", one.path)
        yield one.name, (row_of(world, NAMED_BY[word[1]]).pk,) if word else ()


def test_every_list_is_handed_out_both_ways_with_the_same_rows(world: World, visitor: Visitor) -> None:
    with_everything(world)
    for name, args in of_everything(world):
        rows, cells = as_csv(visitor, name, *args), as_xlsx(visitor, name, *args)
        assert rows[0] == cells[0], name
        assert len(rows) == len(cells) > 1, name
        assert all(len(row) == len(rows[0]) for row in rows), name


def test_a_list_is_an_attachment_with_a_name_that_says_what_it_is(world: World, visitor: Visitor) -> None:
    answer = visitor.get("list_batches_csv")
    assert answer["Content-Disposition"].startswith('attachment; filename="fennel-yard-soapworks-batches-')
    assert answer["X-Content-Type-Options"] == "nosniff"
    content_of(answer)


def test_every_page_that_shows_a_list_offers_it(world: World) -> None:
    missing = []
    for path in TEMPLATES.rglob("*.html"):
        name, text = str(path.relative_to(TEMPLATES)), path.read_text("utf-8")
        if ('<ul class="rows' in text or "<table" in text) and "take_along.html" not in text and name not in NO_LIST:
            missing.append(name)
    assert missing == []


def test_what_is_shown_is_what_is_taken_along(world: World, visitor: Visitor) -> None:
    for name in ("Mint", "Sage", "Mint & oat"):
        world.batch(formula_name=name)
    assert [row[0] for row in as_csv(visitor, "batches", query="?q=mint")[1:]] == ["Mint & oat", "Mint"]
    retire_material(material=world.material("Olive oil"), at=world.now)
    world.material("Lard")
    assert [row[0] for row in as_csv(visitor, "materials", query="?show=retired")[1:]] == ["Olive oil"]
    page = visitor.get("bench", query="?q=oat+%26").content.decode()
    assert f"{reverse('web:list_batches_csv')}?q=oat%20%26" in page


def test_figures_are_numbers_and_words_are_never_run(world: World, visitor: Visitor) -> None:
    lot = world.lot("1000.5", material=world.material("=1+1"))
    write_off(
        actor=world.actor, lot=lot, amount=Decimal("0.5"), reason="@SUM(A1)", moment=world.now, at=world.now
    )  # fmt: skip
    row = as_csv(visitor, "lot_movements", lot.pk)[1]
    assert (row[1], row[4], row[7]) == ("'=1+1", "-0.5", "'@SUM(A1)")
    cells = as_xlsx(visitor, "lot_movements", lot.pk)[1]
    assert (cells[1], cells[4], cells[7]) == ("=1+1", -0.5, "@SUM(A1)")


def test_ounces_are_handed_out_as_ounces(visitor: Visitor) -> None:
    world = World(name="Ounce House", email="ounce@house.example", unit="oz")
    lot = world.lot("2834.952")
    headers, row = as_csv(Visitor(world), "lots")
    assert (row[headers.index("Unit")], row[headers.index("On hand")]) == ("oz", "99.99999")
    assert lot.on_hand == Decimal("2834.952")


def test_all_pages_of_a_list_are_in_it_and_nobody_elses_rows(world: World, visitor: Visitor, stranger: World) -> None:
    for number in range(45):
        world.material(f"Oil {number}")
    stranger.material("Their oil")
    names = [row[0] for row in as_csv(visitor, "materials")[1:]]
    assert len(names) == 45
    assert "Their oil" not in names


def test_a_weighing_is_handed_out_with_its_bar_and_its_unit(world: World, visitor: Visitor) -> None:
    batch = world.batch()
    world.weigh(world.bar(batch), "120.5", moment=batch.cut_at)
    headers, row = as_csv(visitor, "weighings", batch.pk)
    assert (row[headers.index("Bar")], row[headers.index("Weight, g")]) == ("A", "120.5")
