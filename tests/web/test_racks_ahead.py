"""The racks on a day to come, and the order in which batches need a hand."""

import html
import re
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.core.cure.ready_by import NEVER, SURE, Chance, ready_by
from curehouse.curing.models import Cure
from curehouse.flows.forecast_notices import renew_all_outlooks
from curehouse.flows.foretell import foretell_wanting
from curehouse.flows.runs import plan_run
from curehouse.making.models import Batch
from curehouse.making.services.formulas import write_formula
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.hands import in_hand_order
from curehouse.web.reading.racks_ahead import MOST_DAYS, Ahead, chance_words
from tests.flows.test_foretell import cured
from tests.formulas import formula_entry
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import Visitor, doubtful_batch, dry_batch, each_place, pass_or_fail, ready_batch, soft_batch
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def foretold(world: World, **changes: Any) -> Batch:
    batch = cured(world, days_ago=21, last=14, **changes)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    return batch


def cure_of(batch: Batch) -> Cure:
    return Cure.objects.within(batch.workshop).going_on().with_forecast().with_obstacles().get(batch=batch)


def ahead(world: World, days: int) -> Ahead:
    return Ahead(days, Calendar(world.workshop, world.now))


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (NEVER, "not yet"),
        (Chance(0.0, 0.1), "under 1 in 10"),
        (Chance(0.42, 0.42), "4 in 10"),
        (Chance(0.1, 0.5), "1 to 5 in 10"),
        (Chance(0.9, 1.0), "over 9 in 10"),
        (SURE, "sure"),
    ],
)
def test_a_chance_is_said_no_finer_than_it_is_known(chance: Chance, words: str) -> None:
    assert chance_words(chance) == words


def test_a_batchs_chance_is_that_of_its_forecast_on_the_day(world: World) -> None:
    cure = cure_of(foretold(world))
    ready = cure.forecast.foretold["ready_day"]
    for days in (0, 7, 14, 28, MOST_DAYS):
        assert ahead(world, days).chance(cure) == ready_by(21 + days, **ready, min_days=28, horizon_days=126)
    assert ahead(world, 6).note(cure) == "dry enough: not yet"
    assert ahead(world, MOST_DAYS).note(cure) == "dry enough: over 9 in 10"


def test_bars_are_drawn_as_wet_as_they_will_be(world: World) -> None:
    cure = cure_of(foretold(world))
    told = dict(zip(cure.forecast.asked["days"], cure.forecast.foretold["water_left_pct"], strict=True))
    assert ahead(world, 14).water_left(cure) == pytest.approx(told[35.0]["p50"] / 100)
    between = (told[35.0]["p50"] + told[42.0]["p50"]) / 200
    assert told[42.0]["p50"] / 100 < ahead(world, 17).water_left(cure) < told[35.0]["p50"] / 100
    assert ahead(world, 17).water_left(cure) == pytest.approx(between, abs=0.02)


def test_the_page_says_on_each_place_how_likely_it_is_free_by_then(world: World, visitor: Visitor) -> None:
    rack = world.rack("North wall", levels=2, places=1, capacity=30)
    batch = foretold(world, position=world.position(rack, 1))
    today = visitor.words("racks")
    assert "in 10 ready" not in today and "free:" not in today
    page = visitor.get("racks", query="?ahead=28")
    day = (world.now + timedelta(days=28)).date()
    chance = chance_words(ahead(world, 28).chance(cure_of(batch)))
    words = text_of(page)
    assert f"{day:%a} {day.day} {day:%b}, in 28 days." in words
    assert f"level 1, place 1 · 24 of 30 bars, dry enough: {chance}" in words
    assert f"dry enough by {day:%a} {day.day} {day:%b}: {chance}" in words
    assert f"◷ dry enough: {chance}" in page.content.decode()
    # In the drawing it stands once: beside the mark.
    assert "24 of 30, dry enough" not in page.content.decode()
    assert "Places for 36 bars are free as it is" in words
    assert 'value="28"' in page.content.decode()


def test_the_slider_says_its_day_in_words_and_what_is_free_then(world: World, visitor: Visitor) -> None:
    rack = world.rack("North wall", levels=2, places=1, capacity=30)
    foretold(world, position=world.position(rack, 1))
    page = visitor.get("racks", query="?ahead=28")
    day = (world.now + timedelta(days=28)).date()
    (slider,) = re.findall(r'<input type="range"[^>]*>', page.content.decode())
    said = html.unescape(re.search(r'aria-valuetext="([^"]*)"', slider).group(1))
    assert said.startswith(f"{day:%a} {day.day} {day:%b}, in 28 days. Places for 36 bars are free as it is")
    assert said in text_of(page)
    days = re.search(r'data-days="([^"]*)"', slider).group(1).split("|")
    assert len(days) == MOST_DAYS + 1 and days[28] == f"{day:%a} {day.day} {day:%b}"
    today = re.search(r'aria-valuetext="([^"]*)"', visitor.get("racks").content.decode()).group(1)
    assert today.startswith("today: ")


def test_a_place_of_several_is_free_no_likelier_than_the_last_of_them(world: World) -> None:
    early, late = foretold(world), cured(world, days_ago=10, last=7)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    then, cures = ahead(world, 21), [cure_of(early), cure_of(late)]
    first, second = (then.chance(cure) for cure in cures)
    assert first.low > second.low
    assert then.place_note(cures) != then.place_note(cures[:1])
    assert then.place_note([cure_of(ready_batch(world))]) == "can go now"
    assert then.place_note([cure_of(dry_batch(world))]) == "can go once checked"
    assert then.place_note([]) == ""


def test_a_batch_whose_check_failed_is_ready_by_no_day(world: World) -> None:
    batch = foretold(world)
    assert ahead(world, 60).chance(cure_of(batch)) is not None
    pass_or_fail(world, batch, passed=False)
    assert ahead(world, 60).chance(cure_of(batch)) is None
    assert ahead(world, 60).place_note([cure_of(batch)]) == "stays: check failed"


def test_what_nothing_is_foretold_of_is_said_to_be_so(world: World, visitor: Visitor) -> None:
    rack = world.rack(levels=1, places=2)
    world.batch(cut_days_ago=3, position=world.position(rack))
    soft_batch(world, position=world.position(rack, 1, 2))
    words = visitor.words("racks", query="?ahead=14")
    assert words.count("bars, not foretold") == 1 and words.count("stays: too soft") == 1
    assert "24 bars stay whatever is foretold; of 24 bars nothing is foretold." in words


def test_bars_without_a_place_make_none_free_and_are_said_apart(world: World, visitor: Visitor) -> None:
    rack = world.rack(levels=1, places=2, capacity=30)
    world.batch(cut_days_ago=3, position=world.position(rack))
    placed = visitor.words("racks", query="?ahead=14")
    assert "of 24 bars nothing is foretold." in placed and "no place" not in placed
    world.batch(cut_days_ago=3, bars=18)
    dry_batch(world)
    words = visitor.words("racks", query="?ahead=14")
    assert "of 24 bars nothing is foretold; 42 bars more have no place." in words
    assert "dry enough already" not in words.split("What needs a hand first")[0]


def test_what_is_kept_for_runs_is_said_of_the_day_and_at_each_place(world: World, visitor: Visitor) -> None:
    world.rack()
    version = write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)
    on = world.now.date() + timedelta(days=5)
    plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=on, bars=30, at=world.now)
    before, then = visitor.words("racks", query="?ahead=5"), visitor.words("racks", query="?ahead=6")
    assert "kept for" not in before
    assert "places for 30 bars are kept for runs" in then
    drawn = visitor.get("racks", query="?ahead=6").content.decode()
    assert len(re.findall("kept for a run", drawn)) >= 2
    assert "kept for" not in visitor.words("racks")


@pytest.mark.parametrize("typed", ["", "-3", "x", "1e3", "²", "9" * 30])
def test_a_day_that_is_none_is_today(world: World, visitor: Visitor, typed: str) -> None:
    world.batch(cut_days_ago=3, position=world.position(world.rack()))
    assert "the water line in a bar is what is still in it" in visitor.words("racks", query=f"?ahead={typed}")


def test_beyond_the_last_day_it_is_the_last(world: World, visitor: Visitor) -> None:
    world.batch(cut_days_ago=3, position=world.position(world.rack()))
    assert f"in {MOST_DAYS} days" in visitor.words("racks", query="?ahead=4000")


def test_a_day_ahead_takes_as_many_queries_as_today_and_one_for_what_is_kept(world: World, visitor: Visitor) -> None:
    place = each_place(world)
    for _ in range(3):
        cured(world, days_ago=21, last=14, sample_bars=1, position=place())
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    with CaptureQueriesContext(connection) as captured:
        assert visitor.get("racks", query="?ahead=14").status_code == 200
    assert len(captured) - 1 == visitor.queries("racks") == 9


def test_the_racks_list_what_needs_a_hand_first(world: World, visitor: Visitor) -> None:
    place = each_place(world)
    late = cured(world, days_ago=10, last=7, formula_name="Late one", position=place())
    early = cured(world, days_ago=21, last=21, formula_name="Early one", position=place())
    slow = world.batch(cut_days_ago=36, formula_name="Slow one", position=place())
    world.weigh_series(slow, {day: f"{130 - 0.45 * day:.1f}" for day in range(0, 36, 7)})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    Cure.objects.within(world.workshop).filter(batch__in=[late, early, slow]).update(
        due_on=world.now.date() + timedelta(days=5)
    )
    world.batch(cut_days_ago=3, formula_name="Due one", position=place())
    soft_batch(world, formula_name="Soft one", position=place())
    dry_batch(world, formula_name="Dry one", position=place())
    ready_batch(world, formula_name="Ready one", position=place())
    doubtful_batch(world, formula_name="Doubtful one", position=place())
    cures = Cure.objects.within(world.workshop).going_on().with_forecast().with_obstacles()
    names = [cure.batch.formula.name for cure in in_hand_order(cures, Calendar(world.workshop, world.now))]
    assert names == ["Doubtful one", "Ready one", "Dry one", "Soft one", "Slow one", "Due one", "Early one", "Late one"]
    words = visitor.words("racks").split("What needs a hand first")[1]
    places = [words.index(name) for name in names]
    assert places == sorted(places)
    assert "to be weighed" in words
    assert words.index("Slow one") < words.index("may stay too soft") < words.index("Due one")
    assert words.count("may stay too soft") == 1


def test_today_names_what_is_ready_next_and_the_soonest_first(world: World, visitor: Visitor) -> None:
    assert "Ready next" not in visitor.words("today")
    for number, days_ago in enumerate((8, 12, 16, 21)):
        cured(world, days_ago=days_ago, last=7, formula_name=f"No. {number}", sample_bars=1)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    words = visitor.words("today").split("Ready next")[1].split("Without a place")[0]
    named = [name for name in ("No. 3", "No. 2", "No. 1", "No. 0") if name in words]
    assert named == ["No. 3", "No. 2", "No. 1"]
    assert words.index("No. 3") < words.index("No. 2") < words.index("No. 1")
    assert "8 in 10" in words


def test_one_told_to_be_ready_soon_is_named_once_and_one_past_its_days_is_to_be_weighed(
    world: World, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = cured(world, days_ago=21, last=14, formula_name="Late one", sample_bars=1)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    ready = cure_of(batch).forecast.foretold["ready_day"]

    def on_day(day: int) -> str:
        moment = world.now + timedelta(days=day - 21)
        set_clock(monkeypatch, moment)
        renew_all_outlooks(workshop=world.workshop, at=moment)
        return visitor.words("today")

    words = on_day(round(ready["p50"]) - 3)
    assert "Late one 1 is likely dry enough within a week" in words and "Ready next" not in words
    words = on_day(round(ready["p90"]) + 1)
    assert "is likely dry enough within a week" not in words
    assert "likely dry enough since" in words.split("Ready next")[1]
