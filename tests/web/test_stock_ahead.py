"""What will be here, on a material's page: said first, then drawn, then listed; the API and the list have the same figures."""

import html
import json
import re
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from inventory.models import Lot, Material
from inventory.services.movements import use
from inventory.services.orders import send_order, write_order
from tests.api.device import Device
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.web.test_lists import as_csv
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def olive(world: World) -> Material:
    return world.material("Olive oil", kind="fat")


@pytest.fixture
def version(world: World, olive: Material) -> FormulaVersion:
    lines = (fat("olive", "700", material=olive), fat("coconut", "300"), *LIQUIDS)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)


def in_days(world: World, days: int) -> date:
    return world.now.date() + timedelta(days=days)


def planned(world: World, version: FormulaVersion, days: int, fats_g: int = 1000) -> None:
    plan_run(actor=world.actor, version=version, fats_g=Decimal(fats_g), pour_on=in_days(world, days), at=world.now)


def ordered(world: World, packs: int = 2, **offer: Any) -> None:
    found = world.offer(**offer)
    order = write_order(actor=world.actor, supplier=found.supplier, packs={found.pk: packs}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.now.date(), at=world.now)


def used(world: World, lot: Lot, every: int, times: int, grams: str = "700") -> None:
    for number in range(times):
        moment = world.days_ago(1 + every * number)
        use(actor=world.actor, lot=lot, amount=Decimal(grams), moment=moment, at=world.now)


def section(visitor: Visitor, material: Material) -> str:
    words = visitor.words("material", material.pk)
    assert "What will be here" in words
    return html.unescape(words.split("What will be here", 1)[1].split("Lots", 1)[0])


def test_a_small_workshop_is_told_plainly_what_is_not_known(world: World, visitor: Visitor, olive: Material, version) -> None:
    words = section(visitor, olive)
    assert "Nothing of it is usable, on its way or planned, and none of it was used so far" in words
    assert b"stock-drawing" not in visitor.get("material", olive.pk).content
    world.lot("5000", standing="quarantine")
    ordered(world)
    words = section(visitor, olive)
    assert "Not counted: 5 kg in quarantine (lot 1), until a person releases it." in words
    assert "Not counted: 2 kg of Order 1, Brook Mill, for nobody knows when it comes." in words
    planned(world, version, 10)
    words = section(visitor, olive)
    assert "Short on Fri 20 Mar: Goat's milk takes 700 g, 700 g of it will not be there." in words
    assert "None of it was used so far, so nothing is known of use beside planned runs" in words
    assert "How long a delivery takes is not known" in words
    assert "Or release what waits in quarantine." in words


def test_that_it_is_enough_is_said_with_the_sum_behind_it(world: World, visitor: Visitor, olive: Material, version) -> None:
    world.lot("1500.5", best_before=in_days(world, 20))
    planned(world, version, 5)
    planned(world, version, 12)
    words = section(visitor, olive)
    assert "Enough on every day up to Mon 8 Jun." in words
    assert "1.5 kg usable now, 1.4 kg go into 2 planned runs, 100 g expire; nothing left." in words
    assert "From Tue 31 Mar on nothing of it is left." in words
    assert "Lot 1 expires best before Mon 30 Mar −100 g" in words


def test_a_run_that_is_short_is_named_with_what_to_do(world: World, visitor: Visitor, olive: Material, version) -> None:
    world.lot("1000")
    world.offer(lead_days=8)
    planned(world, version, 5)
    planned(world, version, 40, fats_g=1500)
    words = section(visitor, olive)
    assert "Short on Sun 19 Apr: Goat's milk takes 1.05 kg, 750 g of it will not be there." in words
    in_time = r"Sent for by \w+ \d+ (Mar|Apr) it is here in time: 19 deliveries of 20 come within that\."
    assert re.search(rf"{in_time} Up to Mon 8 Jun 750 g lack in all\.", words)
    assert "Goat's milk on Sun 19 Apr; 750 g of it will not be there −1.05 kg" in words
    page = visitor.get("material", olive.pk).content.decode()
    assert "short Sun 19 Apr</text>" in page
    assert re.search(r'href="/runs/\d+/">Goat', page)


def test_use_beside_planned_runs_is_said_with_what_it_is_learnt_from(world: World, visitor: Visitor, olive: Material, version):
    lot = world.lot("30000", days_here=300, best_before=None)
    used(world, lot, 8, 3)
    words = section(visitor, olive)
    assert "as 3 uses in 301 days tell; that is little to go by, so the range is wide." in words
    used(world, lot, 9, 30)
    planned(world, version, 80, fats_g=9000)
    words = section(visitor, olive)
    usual = r"[\d.]+ kg are usually used beside planned runs within 4 weeks, between .* 9 times of 10, as 33 uses"
    assert re.search(usual, words)
    assert re.search(r"Likely short on \w+ \d+ \w+, with what is usually used beside planned runs", words)
    assert re.search(r"It may be short as early as \w+ \d+ \w+, if more is used besides than 19 times of 20\.", words)
    assert "Planned runs alone would leave enough." in words


def a_busy_material(world: World, version: FormulaVersion) -> None:
    lot = world.lot("9000.25", days_here=300, best_before=in_days(world, 30))
    world.lot("4000.125", best_before=None)
    used(world, lot, 11, 20, "123.4")
    ordered(world, lead_days=8, shelf_days=40)
    for days in (3, 20, 33, 60):
        planned(world, version, days, fats_g=1234 + days)


def test_page_list_and_api_have_the_same_figures_to_the_last_digit(world: World, visitor: Visitor, olive, version) -> None:
    a_busy_material(world, version)
    told = Device(world).get(f"materials/{olive.pk}/ahead/").json()
    names = ("left", "low", "high", "planned_left", "came", "expired", "into_runs", "unplanned", "lacking", "if_sent")
    figures = [[Decimal(str(day[name])) for name in names] for day in told["days"]]
    assert len(figures) == 91
    assert len({tuple(row) for row in figures}) > 40, "they are not all alike"
    page = visitor.get("material", olive.pk).content.decode()
    table = page.split("The figures, day by day", 1)[1].split("</table>", 1)[0]
    cells = [re.findall(r'<td class="num[^>]*>([^<]*)</td>', row) for row in table.split("<tr>")[2:]]
    assert [[Decimal(cell) for cell in row] for row in cells] == figures
    headers, *rows = as_csv(visitor, "material_ahead", olive.pk)
    assert [[Decimal(cell) for cell in row[2:12]] for row in rows] == figures
    assert [row[1] for row in rows] == [day["day"] for day in told["days"]]
    assert headers[2:12] == [
        "Likely", "At least", "At most", "As planned", "Comes", "Expires", "Into runs", "Used besides", "Lacks",
        "If sent",
    ]  # fmt: skip
    happening = {row[1]: row[13] for row in rows if row[13]}
    assert set(happening) == {event["day"] for event in told["events"]}
    assert "Goat's milk takes 866 g" in happening[in_days(world, 3).isoformat()]


def test_what_the_api_tells_adds_up(world: World, visitor: Visitor, olive: Material, version) -> None:
    a_busy_material(world, version)
    told = Device(world).get(f"materials/{olive.pk}/ahead/").json()
    left = told["usable"]
    assert left == 9000.25 + 4000.125 - 20 * 123.4
    for day in told["days"]:
        left += day["came"] - day["expired"] - day["into_runs"] - day["unplanned"]
        assert day["left"] == pytest.approx(left, abs=0.002)
        assert day["low"] <= day["left"] <= day["high"]
        left = day["left"]
    kinds = [event["kind"] for event in told["events"]]
    assert sorted(kinds) == ["arrival", "expiry", "expiry", "run", "run", "run", "run"]
    assert all(event["run"] and event["needed" if "needed" in event else "amount"] for event in told["events"] if event["run"])
    assert [event["day"] for event in told["events"]] == sorted(event["day"] for event in told["events"])
    assert told["use"]["uses"] == 20
    assert json.loads(json.dumps(told)) == told


def test_the_drawing_is_named_and_its_days_can_be_stepped_through(world: World, visitor: Visitor, olive, version) -> None:
    a_busy_material(world, version)
    page = html.unescape(visitor.get("material", olive.pk).content.decode())
    assert f'id="ahead-{olive.pk}-title">What will be here of Olive oil</title>' in page
    assert "curve.js" in page
    assert 'data-label="What will be here of Olive oil"' in page
    stops = re.findall(r'class="curve-stop"[^>]*data-say="([^"]*)"', page)
    assert len(stops) == 91
    assert stops[0].startswith("Today: ")
    assert any("Goat's milk takes 866 g" in said for said in stops)
    assert any("2 kg of Order 1, Brook Mill likely come" in said for said in stops)
    assert "best before Thu 9 Apr" in page


def test_what_is_out_of_use_is_not_looked_ahead_to(world: World, visitor: Visitor, olive: Material) -> None:
    visitor.post("material_retire", olive.pk)
    assert "What will be here" not in visitor.words("material", olive.pk)


def test_pieces_and_ounces_are_shown_as_such(world: World, visitor: Visitor) -> None:
    boxes = world.material("Box", kind="packaging")
    used(world, world.lot("500", material=boxes), 3, 9, "24")
    assert "284 pieces usable now" in section(visitor, boxes)
    ounces = World(name="Ounce House", email="ounce@house.example", unit="oz")
    lot = ounces.lot("28349.523")
    words = section(Visitor(ounces), lot.material)
    assert "62.5 lb usable now" in words


def test_the_page_asks_as_often_for_many_runs_and_lots_as_for_few(world: World, visitor: Visitor, olive, version) -> None:
    a_busy_material(world, version)
    few = visitor.queries("material", olive.pk)
    for place in range(12):
        world.lot("100", best_before=in_days(world, 5 + place))
        planned(world, version, 1 + place, fats_g=100)
    assert visitor.queries("material", olive.pk) == few <= 33


def test_the_api_asks_as_often_for_many_rows_as_for_few(world: World, visitor: Visitor, olive: Material, version) -> None:
    a_busy_material(world, version)
    device, asked = Device(world), []
    # The first time a token is seen that is noted.
    device.get(f"materials/{olive.pk}/ahead/")
    for turn in range(2):
        for place in range(1 + 11 * turn):
            world.lot("100", standing="quarantine")
            world.lot("100", best_before=in_days(world, 5 + place))
            planned(world, version, 1 + place, fats_g=100)
        with CaptureQueriesContext(connection) as captured:
            told = device.get(f"materials/{olive.pk}/ahead/").json()
        asked.append(len(captured))
    assert len(told["waiting"]) == 13
    assert {one["lot_name"][:9] for one in told["waiting"]} == {"Olive oil"}
    assert asked[0] == asked[1]


def test_the_list_reaches_beyond_the_days_of_the_table(world: World, visitor: Visitor, olive: Material, version) -> None:
    world.lot("5000")
    planned(world, version, 200)
    page = visitor.get("material", olive.pk).content.decode()
    table = page.split("The figures, day by day", 1)[1].split("</table>", 1)[0]
    assert table.count('<th scope="row">') == 91 + len(range(91, 200, 7)) + 1
    assert len(as_csv(visitor, "material_ahead", olive.pk)) == 1 + 201
