"""Forecasts are made within the news and every morning, kept with all they rest on, and come out the same again."""

import json
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from curehouse.curing.bulk import Remembered
from curehouse.curing.doubts import beside, doubt_about, expected_for
from curehouse.curing.foretelling import logs_in, weighed_batch
from curehouse.curing.models import Cure, CureLearning, CurePrior, CureRecord, Forecast
from curehouse.flows import foretell as flow
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell, work_out
from curehouse.flows.morning import begin_day
from curehouse.making.models import Batch
from tests.world import World

pytestmark = pytest.mark.django_db


def cured(world: World, *, days_ago: int, number: int = 0, last: int = 28, **changes: Any) -> Batch:
    """Enter a batch and weigh it each week up to a day."""
    batch = world.batch(cut_days_ago=days_ago, **changes)
    weights = {day: f"{130 * (0.9 + 0.1 * 0.75 ** (day / 7)) + number % 3 * 0.2:.1f}" for day in range(0, last + 1, 7)}
    world.weigh_series(batch, weights, letters="ABC"[: changes.get("sample_bars", 3)])
    return batch


def cure_of(batch: Batch) -> Cure:
    return Cure.objects.within(batch.workshop).select_related("forecast", "record").get(batch=batch)


def again(forecast: Forecast) -> dict:
    """Work a forecast out again from nothing but what is kept."""
    records = CureRecord.objects.within(forecast.workshop)
    beside = [weighed_batch(row.content) for row in records.filter(pk__in=forecast.beside)]
    found = work_out(
        [weighed_batch(forecast.record.content)],
        beside,
        prior=forecast.prior and forecast.prior.prior,
        calibration=forecast.calibration and forecast.calibration.calibration,
        asked=forecast.asked,
        logs=logs_in(forecast.room and forecast.room.content),
    )
    return json.loads(json.dumps(found[0].as_plain()))


def test_a_weighing_brings_a_forecast_that_comes_out_the_same_again(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    assert cure_of(batch).forecast_wanted_at is not None
    assert foretell_wanting(workshop_id=world.workshop.pk, at=world.now) == 1
    cure = cure_of(batch)
    assert cure.forecast_wanted_at is None and cure.forecast is not None and cure.forecast.prior is None
    ready = cure.forecast.foretold["ready_day"]
    assert 28 <= ready["p10"] <= ready["p50"] <= ready["p90"] <= 126
    assert again(cure.forecast) == cure.forecast.foretold
    assert foretell_wanting(workshop_id=world.workshop.pk, at=world.now) == 0


def test_a_house_learns_from_its_cures_and_each_forecast_comes_out_the_same_again(world: World) -> None:
    batches = [cured(world, days_ago=70 - 4 * n, number=n, last=35 if n < 6 else 21, sample_bars=1) for n in range(11)]
    assert learn_and_foretell(workshop_id=world.workshop.pk, at=world.now) == 11
    learning = CureLearning.objects.within(world.workshop).get()
    assert learning.stages and learning.calibration is not None and learning.claimed_until is None
    assert CurePrior.objects.within(world.workshop).count() == len(learning.stages)
    for batch in batches:
        forecast = cure_of(batch).forecast
        assert forecast is not None and forecast.prior is not None
        assert again(forecast) == forecast.foretold, batch
    assert any(cure_of(batch).forecast.beside for batch in batches)


def test_a_night_in_which_nothing_changed_learns_and_writes_nothing(world: World) -> None:
    for n in range(4):
        cured(world, days_ago=50 - 3 * n, number=n)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    tables = (CurePrior, CureRecord, Forecast)
    before = [set(table.objects.within(world.workshop).values_list("pk", flat=True)) for table in tables]
    assert learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1)) == 0
    assert before == [set(table.objects.within(world.workshop).values_list("pk", flat=True)) for table in tables]


def test_news_while_a_forecast_is_worked_out_leaves_it_wanted(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    batch = cured(world, days_ago=21, last=14)

    def weighed_meanwhile(*given: object, **also: object) -> object:
        world.now += timedelta(seconds=1)
        world.weigh(world.bar(batch), "117.0", moment=world.days_ago(1))
        return working(*given, **also)

    working = flow._worked_out
    monkeypatch.setattr(flow, "_worked_out", weighed_meanwhile)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert cure_of(batch).forecast is None or cure_of(batch).forecast_wanted_at is not None
    monkeypatch.setattr(flow, "_worked_out", working)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now + timedelta(minutes=1))
    cure = cure_of(batch)
    assert cure.forecast_wanted_at is None
    assert 20 in cure.forecast.record.content["bars"][0]["days"]


def statements(run: Any) -> int:
    """Count what is asked of and written to the tables of the cure: each notice is told by itself."""
    with CaptureQueriesContext(connection) as done:
        run()
    return sum('"curing_' in one["sql"] for one in done)


def test_many_are_kept_in_as_few_statements_as_one(world: World) -> None:
    def run() -> int:
        return foretell_wanting(workshop_id=world.workshop.pk, at=world.now)

    cured(world, days_ago=40)
    alone = statements(run)
    for number in range(4):
        cured(world, days_ago=41 + number, number=number)
    assert statements(run) <= alone
    assert not Cure.objects.within(world.workshop).filter(forecast__isnull=True).exists()


def test_a_batch_whose_water_is_unknown_has_no_forecast_and_keeps_nobody_waiting(world: World) -> None:
    dry, wet = cured(world, days_ago=21, last=14), cured(world, days_ago=22, last=14)
    Batch.objects.within(world.workshop).filter(pk=dry.pk).update(water_share_stated=None, water_share_computed=0)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert cure_of(dry).forecast is None and cure_of(dry).forecast_wanted_at is None
    assert cure_of(wet).forecast is not None


@pytest.fixture
def poisoned(world: World, monkeypatch: pytest.MonkeyPatch) -> Batch:
    """Return a batch at which every forecast breaks that is worked out together with it."""
    batch, working = cured(world, days_ago=21, last=14), flow.foretell

    def broken(batches: Any, *given: Any, **also: Any) -> Any:
        if f"{batch.number}" in [one.key for one in batches]:
            raise FloatingPointError
        return working(batches, *given, **also)

    monkeypatch.setattr(flow, "foretell", broken)
    return batch


@pytest.mark.parametrize("run", [foretell_wanting, learn_and_foretell, begin_day])
def test_one_that_cannot_be_foretold_keeps_none_it_came_with_waiting_and_the_log_says_which(
    world: World, poisoned: Batch, run: Any, caplog: pytest.LogCaptureFixture
) -> None:
    sound = cured(world, days_ago=22, last=14)
    later = world.now + timedelta(minutes=1)
    run(workshop_id=world.workshop.pk, at=later)
    assert cure_of(sound).forecast is not None and cure_of(sound).forecast_wanted_at is None
    assert (cure_of(poisoned).forecast, cure_of(poisoned).forecast_wanted_at) == (None, later)
    said = [one.getMessage() for one in caplog.records if one.levelname == "ERROR"]
    assert said == [f"not foretold: workshop={world.workshop.pk} batch={poisoned.pk}"]


def test_a_night_that_cannot_learn_foretells_by_what_holds_and_the_morning_tells_what_there_is(
    world: World, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    batch = cured(world, days_ago=30, last=28)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    world.weigh(world.bar(batch), "117.0", moment=world.now)
    told: list[str] = []
    monkeypatch.setattr(flow, "renew_all_outlooks", lambda **_also: told.append("told"))
    monkeypatch.setattr("curehouse.flows.learn.known_of", lambda _workshop: 1 / 0)
    night = world.now + timedelta(days=1)
    assert begin_day(workshop_id=world.workshop.pk, at=night) is not None
    assert told == ["told"]
    cure = cure_of(batch)
    assert cure.forecast_wanted_at is None and cure.forecast.moment == world.now and cure.forecast.prior is not None
    said = [one.getMessage() for one in caplog.records if one.levelname == "ERROR"]
    assert said == [f"nothing learnt: workshop={world.workshop.pk}"]
    assert CureLearning.objects.within(world.workshop).get().claimed_until is None


def test_the_round_goes_by_the_forecast_that_knows_the_last_weighing(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    bar = world.bar(batch)
    before = expected_for(beside(bar), moment=world.now, scale=world.scale)
    assert beside(bar).own.foretold is None
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    foretold = beside(bar).own.foretold
    expected = expected_for(beside(bar), moment=world.now, scale=world.scale)
    assert foretold is not None and expected != before
    middle, below, above = foretold.on(21.0)
    assert expected.middle_g == pytest.approx(middle, abs=0.01)
    assert expected.high_g == pytest.approx(middle + 2 * above + 0.15, abs=0.01)
    # The same page, whoever weighs: one by one and many at once are asked about alike.
    heavy = Decimal(str(round(expected.high_g + expected.slack_g + 3, 1)))
    remembered = Remembered(workshop=world.workshop, batch_ids=[batch.pk], scale_ids=[world.scale.pk])
    entry = {"weight_g": heavy, "moment": world.now, "scale": world.scale, "typed": "", "unit": "g"}
    alone = doubt_about(beside(bar), tares=(), **entry)
    assert alone is not None and alone == remembered.doubt_about(bar, **entry)
    world.weigh(bar, f"{middle:.1f}", moment=world.now)
    assert beside(bar).own.foretold is None


def test_a_session_off_as_a_whole_is_asked_about_bar_by_bar_though_no_rate_shows_it(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    middles = {letter: beside(world.bar(batch, letter)).own.foretold.on(21.0)[0] for letter in "ABC"}
    asked = [world.weigh(world.bar(batch, letter), f"{middle + 8:.1f}", moment=world.now) for letter, middle in middles.items()]
    assert all(row.doubt for row in asked)
    assert asked[-1].doubt == "tare" and sorted(asked[-1].doubt_detail["alike"]) == ["A", "B"]
