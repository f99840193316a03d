"""A batch's page says when it will be ready, what its bars will weigh, whether it may stay soft, and on what that rests."""

import re
from datetime import timedelta

import pytest

from curehouse.common.time import day_words
from curehouse.curing.models import Cure, Forecast
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.making.models import Batch
from curehouse.web.drawing.curve import curve_figure
from curehouse.web.reading.batch import read_batch
from curehouse.web.reading.days import Calendar
from tests.flows.test_foretell import cured
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def forecast_of(batch: Batch) -> Forecast:
    forecast = Cure.objects.within(batch.workshop).select_related("forecast").get(batch=batch).forecast
    assert forecast is not None
    return forecast


def view_of(world: World, batch: Batch) -> object:
    return read_batch(batch, world.workshop, Calendar(world.workshop, world.now))


def day_on(world: World, batch: Batch, day: float) -> str:
    return day_words((batch.cut_at + timedelta(days=day)).date(), today=world.now.date())


def test_the_page_says_the_window_and_the_curve_draws_it(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    told = forecast_of(batch).foretold
    outlook = view_of(world, batch).verdict.outlook
    assert (
        outlook.window == f"{day_on(world, batch, told['ready_day']['p10'])} – {day_on(world, batch, told['ready_day']['p90'])}"
    )
    assert f"half by {day_on(world, batch, told['ready_day']['p50'])}." in outlook.sentences[0]
    assert outlook.rests_on == "From its 3 weighings and what is usual of such bars: none was cured here yet."
    curve = view_of(world, batch).curve
    assert (curve.ready_window.first_day, curve.ready_window.last_day) == (told["ready_day"]["p10"], told["ready_day"]["p90"])
    assert curve.forecast[0].day == 14 and curve.forecast[-1].day >= 56
    assert all(one.low_g < one.mid_g < one.high_g for one in curve.forecast[1:])
    assert re.search(r"Expected on day\s\d+: \d+\.\d\sg, between", str(curve_figure(curve)))


def test_the_weight_said_is_that_of_the_forecast_in_whole_grams(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    forecast = forecast_of(batch)
    bar = forecast.foretold["new_bar"][forecast.asked["days"].index(56.0)]["weight_g"]
    said = " ".join(view_of(world, batch).verdict.outlook.sentences).replace("\u00a0", " ")
    assert f"about {bar['p50']:.0f} g on {day_on(world, batch, 56)}" in said
    assert f"between {bar['p10']:.0f} g and {bar['p90']:.0f} g" in said


def test_what_the_workshop_learnt_from_is_said(world: World) -> None:
    batches = [cured(world, days_ago=40 - n, last=28, sample_bars=1) for n in range(3)]
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    cures = forecast_of(batches[0]).prior.cures
    words = "what is usual of such bars" if not cures else f"what {cures} cure"
    assert words in view_of(world, batches[0]).verdict.outlook.rests_on


def test_a_batch_that_hardly_dries_is_said_to_stay_soft(world: World) -> None:
    batch = world.batch(cut_days_ago=36, sample_bars=2)
    world.weigh_series(batch, {day: f"{130 - 0.25 * day:.1f}" for day in range(0, 36, 7)}, letters="AB")
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    told = forecast_of(batch).foretold
    assert told["soft_probability"] >= 0.25
    assert "too soft" in " ".join(view_of(world, batch).verdict.outlook.sentences)


def test_without_a_forecast_the_page_is_as_before(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14)
    assert view_of(world, batch).verdict.outlook is None
    assert "8 in 10" not in text_of(visitor.get("batch", batch.pk))
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert "ready, 8 in 10" in text_of(visitor.get("batch", batch.pk))
