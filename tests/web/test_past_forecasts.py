"""The page of past forecasts: what was told and what came, in words, tables and lists; the API says the same."""

import json
import subprocess
import sys
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from curehouse.curing.models import Cure, CureCalibration, CureLearning, Forecast
from curehouse.curing.past_forecasts import past_forecasts
from curehouse.curing.services.forecasts import Answer, ForecastEntry, answer_with_forecasts, keep_records
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import correct
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from tests.api.device import Device
from tests.flows.test_foretell import cured
from tests.web.on_round import set_clock
from tests.web.test_lists import as_csv
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

RULE = {
    "min_days": 28, "weekly_loss_limit_pct": 0.75, "water_left_limit_pct": None, "latest_day": 56,
    "soft_water_of_bar_pct": None, "horizon_days": 126,
}  # fmt: skip
# A weekly loss of 1.5 % up to day 28 and of 0.5 % a week later: ready on 28 + 7 · 0.75 / 1.0 = 33.25, so day 34.
READY_DAY = 34


def weighed(world: World, *, days_ago: int = 60, to: int = 42) -> Batch:
    batch = world.batch(cut_days_ago=days_ago, sample_bars=2)
    grams = {42: 100.0, 35: 100.25, 28: 100.75, 21: 102.25, 14: 104.0, 7: 107.0, 0: 112.0}
    world.weigh_series(batch, {day: f"{grams[day]:.2f}" for day in range(0, to + 1, 7)}, letters="AB")
    return batch


def tell(world: World, batch: Batch, weighings: int, ready: tuple[int, int, int], *, soft: float = 0.1, **also: Any) -> None:
    """Keep a forecast of a batch as it would have been told after so many weekly weighings."""
    days = [0.0, 28.0, 42.0, 56.0]
    band = [{"p10": grams - 1.0, "p50": grams, "p90": grams + 1.0} for grams in (112.0, 101.0, 99.5, 98.5)]
    foretold = {
        "key": f"{batch.number}", "weighings": weighings, "ready_day": dict(zip(("p10", "p50", "p90"), ready, strict=True)),
        "soft_probability": soft, "weight_g": {"A": band, "B": band}, "new_bar": [], "water_left_pct": [],
        "odd_probability": 0.0,
    }  # fmt: skip
    content = {"key": f"{batch.number}", "weighings": weighings}
    print_of = f"{batch.number}-{weighings}-{also.get('again', 0)}".rjust(64, "0")
    record = keep_records(workshop=world.workshop, contents={print_of: content})[print_of]
    day = also.get("day", 7 * (weighings - 1))
    entry = ForecastEntry(
        moment=batch.cut_at + timedelta(days=day, hours=1), method="cure-6", fingerprint=print_of, record=record, beside=[],
        room=None, prior=None, calibration=None, asked={"rule": RULE, "step_g": 0.1, "days": days}, foretold=foretold,
    )  # fmt: skip
    cure = Cure.objects.within(world.workshop).get(batch=batch)
    answer_with_forecasts(workshop=world.workshop, answers=[Answer(cure.pk, cure.forecast_wanted_at, entry)], at=world.now)


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def told_of(world: World, *, batches: int, held: int, weighings: int = 2) -> list[Batch]:
    """Return batches that were foretold, of which so many became ready within the days named."""
    found = [weighed(world, days_ago=60 + n) for n in range(batches)]
    for n, batch in enumerate(found):
        tell(world, batch, weighings, (30, 33, 38) if n < held else (36, 40, 45))
    return found


def test_what_came_is_said_in_plain_words_before_the_figures(world: World, visitor: Visitor) -> None:
    told_of(world, batches=12, held=10)
    words = visitor.words("past_forecasts")
    # Ten a day too early, two six days too late: off by 22 / 12, by (−10 + 12) / 12 on the whole.
    assert (
        "After two weighings: of 12 batches, 10 became ready within the days that were named (8 of 10 is what the house "
        "promises); the middle was off by 1.8 days on average, 0.2 days too late." in words
    )
    assert "0 after one weighing, 0 after three weighings" in words
    assert "of none is it known" not in words
    # The weights were told 0.5 g too light on day 42, all within a gram.
    assert "of 24 sample bars of 12 batches, 24 weighed within what was named" in words
    assert "off by 0.50 g on average, 0.50 g too light" in words
    assert "After two weighings: of 12 batches, none was told as likely too soft; none stayed too soft." in words
    assert words.index("After two weighings: of 12") < words.index("errors in days")
    assert "%" not in words.split("How it is counted")[0]


def test_under_ten_batches_nothing_is_said_but_how_many(world: World, visitor: Visitor) -> None:
    told_of(world, batches=9, held=9)
    words = visitor.words("past_forecasts")
    assert "Too few batches yet" in words
    assert "9 after two weighings" in words
    assert "9 of 9" not in words
    assert "became ready within" not in words
    tell(world, weighed(world, days_ago=90), 2, (30, 33, 38))
    assert "of 10 batches, 10 became ready within" in visitor.words("past_forecasts")


def test_an_empty_house_is_told_that_there_is_nothing_yet(visitor: Visitor) -> None:
    words = visitor.words("past_forecasts")
    assert "Too few batches yet: of none is it known what came." in words
    assert "the next morning foretells them again" in words


def test_ranges_that_hold_clearly_too_seldom_are_said_so_with_what_to_do(world: World, visitor: Visitor) -> None:
    told_of(world, batches=12, held=5)
    words = visitor.words("past_forecasts")
    assert "The days named after two weighings held clearly seldomer than promised. Trust the outer days" in words
    assert "weigh once more" in words


def test_ranges_that_always_hold_are_said_to_be_too_wide(world: World, visitor: Visitor) -> None:
    told_of(world, batches=22, held=22)
    assert "held clearly more often than promised. The days named reach wider" in visitor.words("past_forecasts")


def one_told(world: World) -> Any:
    (found,) = past_forecasts(world.workshop).told.batches
    return found


def test_of_one_number_of_weighings_the_last_that_was_told_counts(world: World) -> None:
    batch = weighed(world)
    tell(world, batch, 2, (50, 55, 60))
    tell(world, batch, 2, (30, 33, 38), again=1)
    found = one_told(world)
    assert found.came.ready_day == READY_DAY
    assert found.judged[2].told.ready_day.middle == 33
    assert found.judged[2].held is True


def test_of_five_weighings_and_more_the_fewest_count_and_none_once_it_was_seen(world: World) -> None:
    batch = weighed(world)
    tell(world, batch, 5, (30, 33, 38))
    # After the sixth weighing it was seen to be dry enough.
    tell(world, batch, 6, (34, 34, 34))
    assert one_told(world).judged[5].told.weighings == 5
    other = World(name="Late House", email="late@house.example")
    late = weighed(other)
    tell(other, late, 6, (34, 34, 34))
    found = one_told(other)
    assert (found.judged, found.why_not) == ({}, "told_late")
    assert "1 that was foretold only once it was dry enough" in Visitor(other).words("past_forecasts")


def test_a_batch_that_left_too_soon_is_not_counted_and_said_to_be_so(world: World, visitor: Visitor) -> None:
    batch, other = weighed(world, to=28), weighed(world, days_ago=28, to=28)
    for one in (batch, other):
        tell(world, one, 2, (30, 33, 38))
    entry = TakeOutEntry(bars=batch.bars_left, purpose="gift", taken_at=world.days_ago(20), forced_reason="a wedding")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    past = past_forecasts(world.workshop).told
    assert (past.counted, dict(past.uncounted)) == (0, {"still_wet": 1, "going_on": 1})
    words = visitor.words("past_forecasts")
    assert "Not counted: 1 that still cures, 1 that left before it was dry enough." in words


def test_a_range_that_was_outlived_did_not_hold_though_the_day_is_not_known(world: World, visitor: Visitor) -> None:
    batch = weighed(world, to=28)
    tell(world, batch, 2, (28, 28, 28))
    found = one_told(world)
    assert (found.judged[2].held, found.judged[2].off_days) == (False, None)
    assert "was later" in visitor.words("past_forecasts")


def test_weighings_that_were_corrected_or_are_in_doubt_count_nowhere(world: World) -> None:
    batch = weighed(world, to=35)
    tell(world, batch, 2, (30, 33, 38))
    slip = world.weigh(world.bar(batch), "1002.5", moment=batch.cut_at + timedelta(days=42, hours=1))
    assert slip.doubt
    assert {bar.read_g for bar in one_told(world).judged[2].weights} == {100.25}
    mended = world.reading_entry("100.0", moment=slip.moment)
    correct(actor=world.actor, reading=slip, entry=mended, at=world.now)
    (bar,) = one_told(world).judged[2].weights
    assert (bar.bar, bar.read_g) == ("A", 100.0)


def test_a_night_tells_ended_cures_again_and_the_page_shows_them_apart(world: World, visitor: Visitor) -> None:
    for n in range(12):
        batch = cured(world, days_ago=120 - 4 * n, number=n, last=56, sample_bars=1)
        entry = TakeOutEntry(bars=batch.bars_left, purpose="sale", taken_at=world.days_ago(1), forced_reason="a market")
        take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    past = past_forecasts(world.workshop)
    assert not Forecast.objects.within(world.workshop).exists()
    assert past.replayed is not None
    assert [one.ready.batches for one in past.replayed.scores] == [0, 6, 6, 6, 6]
    assert all(set(one.judged) in ({2, 4}, {3, 5}) for one in past.replayed.batches)
    words = visitor.words("past_forecasts")
    assert "12 batches counted." in words
    assert "Told again of cures that ended" in words
    assert "the next morning foretells them again" not in words
    assert len([row for row in as_csv(visitor, "past_forecasts") if row[0] == "told again"]) == 24
    assert visitor.queries("past_forecasts") == 8


def test_a_calibration_from_before_replays_were_kept_still_loads(world: World, visitor: Visitor) -> None:
    cured(world, days_ago=60, last=42)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    old = CureCalibration.unscoped.create(
        workshop=world.workshop, fingerprint="0" * 64, method="cure-6", found_at=world.now,
        calibration={"ready": [1.0], "weight": [1.0], "replayed": 0},
    )  # fmt: skip
    CureLearning.objects.within(world.workshop).update(calibration=old)
    assert past_forecasts(world.workshop).replayed is None
    assert "the next morning foretells them again" in visitor.words("past_forecasts")


def test_the_list_has_what_was_told_what_came_and_how_they_agree(world: World, visitor: Visitor) -> None:
    batch = told_of(world, batches=2, held=1)[1]
    headers, *rows = as_csv(visitor, "past_forecasts")
    row = dict(zip(headers, next(one for one in rows if one[1] == f"{batch}"), strict=True))
    cut = batch.cut_at.date()
    assert row["Source"] == "told here"
    assert (row["Named from"], row["Named to"]) == (f"{cut + timedelta(36)}", f"{cut + timedelta(45)}")
    assert row["Became ready"] == f"{cut + timedelta(READY_DAY)}"
    assert (row["Days named"], row["Middle less day, days"]) == ("2 days sooner", "6")
    assert (row["Bars"], row["Bars held"], row["Middle less weight, g"]) == ("2", "2", "-0.5000")


def test_queries_do_not_grow_with_the_batches(world: World, visitor: Visitor) -> None:
    told_of(world, batches=2, held=1)
    few = visitor.queries("past_forecasts")
    told_of(world, batches=5, held=5, weighings=3)
    assert visitor.queries("past_forecasts") == few == 9


def test_it_stands_where_a_maker_looks_for_it(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14)
    world.rack()
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    href = f'href="{reverse("web:past_forecasts")}"'
    for page in (visitor.get("batch", batch.pk), visitor.get("racks"), visitor.get("workshop")):
        assert href in page.content.decode()


def test_the_api_says_the_same_to_the_last_digit(world: World, visitor: Visitor) -> None:
    told_of(world, batches=12, held=10)
    device = Device(world)
    answer = device.get("past-forecasts/").json()
    past = past_forecasts(world.workshop)
    two = answer["told"]["scores"][1]
    assert json.loads(json.dumps(two["ready"])) == {
        "batches": 12, "ranges": 12, "held": 10, "mean_error": 1.8, "bias": 0.2, "promise": "kept",
    }  # fmt: skip
    assert two["weight"]["mean_error"] == past.told.scores[1].weight.mean_error == 0.5
    words = visitor.words("past_forecasts")
    assert f"off by {two['ready']['mean_error']:g} days on average, {two['ready']['bias']:g} days too late" in words
    assert f"off by {two['weight']['mean_error']:.2f} g on average" in words
    assert answer["told_again"] is None
    assert (answer["promised"], answer["least_batches"], answer["told"]["batches"]) == (0.8, 10, 12)


def test_what_the_page_reads_loads_no_numpy() -> None:
    program = (
        "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'tests.settings'\n"
        "import django; django.setup()\n"
        "import sys, curehouse.curing.past_forecasts, curehouse.web.reading.past_words\n"
        "print('numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
