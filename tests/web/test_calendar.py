"""The calendar: pours, cures and markets in one list, with what clashes and how many bars a market can have."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.runs import plan_run
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.selling.models import Market
from tests.formulas import formula_entry
from tests.web.on_round import text_of
from tests.web.visitor import Visitor, dry_batch
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)


def day(world: World, days: int) -> str:
    return (world.now.date() + timedelta(days=days)).isoformat()


def planned(world: World, version: FormulaVersion, *, days: int = 5, bars: int = 30) -> Run:
    on = world.now.date() + timedelta(days=days)
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=on, bars=bars, at=world.now)


def market(visitor: Visitor, world: World, days: int, name: str = "Winter fair") -> None:
    assert visitor.post("markets", name=name, held_on=day(world, days), note="").status_code == 302


def test_an_empty_house_says_where_to_begin(visitor: Visitor) -> None:
    assert "Nothing is to come" in visitor.words("calendar")


def test_pours_cures_and_markets_stand_in_order_with_what_clashes(world: World, visitor: Visitor, version) -> None:
    rack = world.rack(levels=1, places=2, capacity=24)
    curing = world.batch(cut_days_ago=10, formula_name="Sheep & salt", position=world.position(rack), bars=20)
    world.weigh_series(curing, {0: "130.0", 7: "124.0"})
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    dry = dry_batch(world, formula_name="Castile", bars=18)
    run = planned(world, version)
    market(visitor, world, 80)
    answer = visitor.get("calendar")
    lines = [line for week in answer.context["view"].weeks for line in week.lines]
    assert [line.name for line in lines] == [str(dry), "Olive & oat", str(curing), "Winter fair"]
    assert [line.on for line in lines] == sorted(line.on for line in lines)
    of_run = lines[1]
    assert of_run.href == reverse("web:run", args=[run.pk])
    assert of_run.beside.word == "no place"
    assert "no place is kept" in " ".join(of_run.trouble)
    assert "the first of 10 by" in lines[2].note
    assert lines[3].note.startswith("32 bars of 2 batches on the racks are likely dry enough by then, sample bars left out")
    drawn = answer.content.decode()
    assert "2 places hold 48 bars" in drawn
    assert "this run" not in drawn.partition("curve-legend")[2].partition("</p>")[0]


def test_a_market_too_soon_counts_only_what_is_dry_by_then(world: World, visitor: Visitor) -> None:
    curing = world.batch(cut_days_ago=10, formula_name="Sheep & salt")
    world.weigh_series(curing, {0: "130.0", 7: "124.0"})
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    dry = dry_batch(world, formula_name="Castile", bars=18)
    market(visitor, world, 3)
    words = visitor.words("calendar")
    assert f"{dry.bars_left - 3} bars of 1 batch on the racks are likely dry enough by then" in words


def test_each_bar_counts_for_one_market_and_sample_bars_for_none(world: World, visitor: Visitor, version) -> None:
    dry = dry_batch(world, formula_name="Castile", bars=18)
    planned(world, version, bars=30)
    market(visitor, world, 3, name="First fair")
    market(visitor, world, 88, name="Last fair")
    marked = dry.sample_bars.filter(ended_at__isnull=True).count()
    assert marked == 3
    first, last = (
        line.note for week in visitor.get("calendar").context["view"].weeks for line in week.lines if "fair" in line.name
    )
    assert first == "15 bars of 1 batch on the racks are likely dry enough by then, sample bars left out"
    assert last == (
        "0 bars of 0 batches on the racks are likely dry enough by then, sample bars left out, and 27 of runs that are "
        "planned; besides 15 bars counted for an earlier market, if none are sold there"
    )


def test_a_run_whose_day_is_past_stands_today_and_says_so(world: World, visitor: Visitor, version) -> None:
    planned(world, version, days=1)
    world.now += timedelta(days=3)
    (line,) = [line for week in visitor.get("calendar").context["view"].weeks for line in week.lines]
    assert line.on == world.now.date()
    assert "its day, Wed 11 Mar, is past" in line.note


def test_markets_are_written_moved_and_called_off(world: World, visitor: Visitor) -> None:
    market(visitor, world, 30)
    row = Market.objects.within(world.workshop).get()
    twice = visitor.post("markets", name="winter FAIR", held_on=day(world, 30), note="")
    assert "is on that day already: choose another name or day." in text_of(twice)
    past = visitor.post("markets", name="Old fair", held_on=day(world, -1), note="")
    assert "Choose a day from today on, within two years." in text_of(past)
    assert visitor.post("market", row.pk, name="Winter fair", held_on=day(world, 31), note="stall 4").status_code == 302
    assert "stall 4" in visitor.words("markets")
    assert visitor.post("market_call_off", row.pk).status_code == 302
    assert "No market is written down" in visitor.words("markets")
    assert visitor.get("market", row.pk).status_code == 409
    assert visitor.post("market_call_off", row.pk).status_code == 409
    market(visitor, world, 31)


def test_forty_runs_and_two_hundred_places_take_as_many_queries_as_four(world: World, visitor: Visitor, version) -> None:
    world.rack(levels=10, places=20, capacity=24)

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert visitor.get("calendar").status_code == 200
        return len(captured)

    for days in range(4):
        planned(world, version, days=days)
        market(visitor, world, 20 + days)
    few = queries()
    for days in range(36):
        planned(world, version, days=days)
    assert queries() == few
