"""Places for runs on their pages: looked for, kept with the plan, told when they lack, kept anew."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.curing.models import ExpectedCure, KeptPlace
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.runs import plan_run
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
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


def ask(world: World, *, days: int = 5, bars: str = "30") -> str:
    return f"?fats_g=2000&pour_on={day(world, days)}&bars={bars}"


def planned(world: World, version: FormulaVersion, *, days: int = 5, bars: int | None = 30) -> Run:
    on = world.now.date() + timedelta(days=days)
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=on, bars=bars, at=world.now)


def test_the_page_says_where_bars_stand_and_until_when(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    world.rack()
    words = visitor.words("version_run", version.pk, query=ask(world))
    assert "30 bars, from the cut on Mon 16 Mar until " in words
    assert "by then 9 of 10 such batches are dry enough" in words
    assert "North wall, level 1, place 1 24 bars" in words
    assert "North wall, level 1, place 2 6 bars" in words
    drawn = visitor.get("version_run", version.pk, query=ask(world)).content.decode()
    assert "4 places hold 96 bars. Today 0 stand there" in drawn
    assert "Mon 16 Mar: 0 of 96 stand or are kept, 30 of this run, 66 free" in drawn
    assert not KeptPlace.objects.within(world.workshop).exists()


def test_what_has_to_leave_first_is_named(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    rack = world.rack(levels=1, places=1, capacity=30)
    here = world.batch(cut_days_ago=20, position=world.position(rack), formula_name="Olive & oat")
    world.weigh_series(here, {0: "130.0", 7: "121.0", 14: "118.4", 20: "117.6"})
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    words = visitor.words("version_run", version.pk, query=ask(world, days=80))
    assert f"30 bars; {here} stands there until about " in words


def test_bars_that_find_no_place_are_told_with_the_day_on_which_they_do(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    world.rack(levels=1, places=1, capacity=30)
    first = planned(world, version, bars=20)
    words = visitor.words("version_run", version.pk, query=ask(world, days=9))
    assert "20 bars of 30 find no place for all of it. Poured on " in words
    gone = ExpectedCure.objects.within(world.workshop).get(run=first).stays_until
    there = (gone - world.now.date()).days
    assert "no place for all of it" not in visitor.words("version_run", version.pk, query=ask(world, days=there))
    assert "no place for all of it" in visitor.words("version_run", version.pk, query=ask(world, days=there - 1))


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?fats_g=2000&pour_on=2020-01-01&bars=30", "This day is past: choose today or later"),
        ("?fats_g=2000&pour_on=2026-03-15&bars=0", "whole number from 1 to 5000"),
        ("?fats_g=2000&pour_on=2026-03-15&bars=many", "whole number from 1 to 5000"),
    ],
)
def test_what_cannot_be_is_answered_beside_its_field(
    world: World, visitor: Visitor, version: FormulaVersion, query: str, said: str
) -> None:
    world.rack()
    answer = visitor.get("version_run", version.pk, query=query)
    assert said in answer.content.decode()
    assert answer.context["view"] is None


def test_without_racks_it_says_where_to_put_one_up(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    assert "No rack is drawn yet" in visitor.words("version_run", version.pk, query=ask(world))
    run = planned(world, version)
    assert "No rack is drawn yet" in visitor.words("run", run.pk)


def test_planning_keeps_them_and_the_run_shows_them(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    world.rack()
    visitor.post("version_run", version.pk, fats_g="2000", pour_on=day(world, 5), bars="30", note="")
    run = version.runs.get()
    words = visitor.words("run", run.pk)
    assert "Places for all its 30 bars are kept until " in words
    assert "North wall, level 1, place 1 24 bars" in words
    assert "no place" not in words


def test_a_place_says_for_which_run_it_is_kept(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    rack = world.rack()
    planned(world, version)
    assert "6 bars of Olive & oat, from Mon 16 Mar to " in visitor.words("position", world.position(rack, 1, 2).pk)
    assert "Kept for runs" not in visitor.words("position", world.position(rack, 2, 2).pk)


def test_a_run_whose_day_is_past_says_who_has_to_leave_and_counts_from_today(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    rack = world.rack(levels=1, places=1, capacity=30)
    here = dry_batch(world, position=world.position(rack), formula_name="Olive & oat")
    run = planned(world, version, days=1)
    world.now += timedelta(days=4)
    words = visitor.words("run", run.pk)
    assert "30 bars, from the cut on Sun 15 Mar until " in words
    assert f"{here} is dry enough and stands there: it has to leave first" in words


def test_a_run_that_lacks_places_says_so_and_keeps_them_anew_for_other_bars(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    world.rack(levels=1, places=1, capacity=24)
    run = planned(world, version)
    words = visitor.words("run", run.pk)
    assert "no place" in words
    assert "For 6 of its 30 bars no place is kept from " in words
    answer = visitor.post("run_places", run.pk, bars="24")
    assert answer["Location"] == reverse("web:run", args=[run.pk]) + "#its-places"
    assert "For 6 of" not in visitor.words("run", run.pk)
    run.refresh_from_db()
    assert run.bars == 24


def test_a_run_of_which_nobody_knows_how_many_bars_asks_for_them(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    world.rack()
    run = planned(world, version, bars=None)
    assert "Nobody knows how many bars it gives" in visitor.words("run", run.pk)
    refused = visitor.post("run_places", run.pk, bars="")
    assert refused.status_code == 200
    assert "Nobody knows how many bars it gives" in refused.content.decode()
    visitor.post("run_places", run.pk, bars="12")
    assert "12 bars, from the cut on " in visitor.words("run", run.pk)


def test_the_cut_proposes_the_places_that_are_kept(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version, days=0)
    entry = world.batch_entry(cut_days_ago=None, formula_name="Olive & oat")
    batch = enter_batch(actor=world.actor, entry=entry, rack=RackEntry(), run=run, at=world.now)
    page = visitor.get("batch_cut", batch.pk).content.decode()
    kept = "kept for it: North wall, level 1, place 1 (24), North wall, level 1, place 2 (6)"
    assert f'<option value="kept" selected>{kept}</option>' in page
    moment = f"{world.now:%Y-%m-%dT%H:%M}"
    visitor.post("batch_cut", batch.pk, cut_at=moment, bars="30", sample_bars="3", position="kept", when_full="")
    words = visitor.words("batch", batch.pk)
    assert "North wall, level 1, place 1 24 bars" in words
    assert "North wall, level 1, place 2 6 bars" in words


def test_a_run_that_is_over_keeps_none_anew(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    world.rack()
    run = planned(world, version)
    visitor.post("run_call_off", run.pk, why="no market")
    refused = visitor.post("run_places", run.pk, bars="12")
    assert "This run was called off" in text_of(refused)
    assert "Where its bars will stand" not in visitor.words("run", run.pk)


def test_forty_runs_take_as_many_queries_as_four(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    world.rack(levels=10, places=20, capacity=24)

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert visitor.get("version_run", version.pk, query=ask(world)).status_code == 200
        return len(captured)

    for days in range(4):
        planned(world, version, days=days)
    few = queries()
    for days in range(36):
        planned(world, version, days=days)
    assert queries() == few
