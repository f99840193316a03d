"""A batch's page says when it will be ready, what its bars will weigh, whether it may stay soft, and on what that rests."""

import re
from datetime import timedelta
from html import unescape

import pytest

from curehouse.common.time import day_words
from curehouse.core.cure.foretold_weights import BarOn, bar_on
from curehouse.curing.labels import asked_again, days_of
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.outlook import at_sale_day
from curehouse.curing.services.labels import keep_label
from curehouse.flows.foretell import foretell_wanting, learn_and_foretell
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from curehouse.web.drawing.curve import curve_figure
from curehouse.web.reading.batch import read_batch
from curehouse.web.reading.days import Calendar
from tests.curing.test_labels import asked
from tests.flows.test_circumstances import pouring
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


def test_what_is_drawn_of_days_to_come_stands_in_a_table_too(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    page = visitor.get("batch", batch.pk).content.decode()
    points = view_of(world, batch).curve.forecast
    (table,) = re.findall(r'<table class="record stacked" id="foretold">.*?</table>', page, re.DOTALL)
    rows = re.findall(r"<tr>.*?</tr>", table.replace("\u00a0", " "), re.DOTALL)[1:]
    assert len(rows) == len(points)
    for point, row in zip(points, rows, strict=True):
        said = " ".join(re.sub(r"<[^>]+>", " ", row).split())
        day = day_on(world, batch, point.day)
        assert said == f"{day} day {point.day:.0f} {point.mid_g:.1f} {point.low_g:.1f} – {point.high_g:.1f}"
    assert "A sample bar on average, in g; 8 of 10 weights lie within the band" in table
    assert "data-foretold" in page and "curve-legend" in page
    alone = visitor.get("batch", world.batch(cut_days_ago=0.05).pk).content.decode()
    assert 'id="foretold"' not in alone


def words_of(world: World, batch: Batch) -> str:
    return " ".join(view_of(world, batch).verdict.outlook.sentences).replace("\u00a0", " ")


def bar_said(told: BarOn) -> str:
    low, middle, high = (f"{told.weight_g[name]:.0f}" for name in ("p10", "p50", "p90"))
    return (
        f"weighs about {middle} g, 8 of 10 between {low} g and {high} g; about {told.water_left_pct['p50']:.0f} % of its water"
    )


def test_the_weight_said_is_that_of_the_day_by_which_half_are_dry_in_whole_grams(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    forecast = forecast_of(batch)
    middle = forecast.foretold["ready_day"]["p50"]
    told = bar_on(forecast.asked["days"], forecast.foretold, middle)
    assert 28 <= middle < 56 and round(told.weight_g["p90"]) > round(told.weight_g["p10"])
    words = words_of(world, batch)
    assert f"On {day_on(world, batch, middle)} a bar {bar_said(told)} is still in it." in words
    assert day_on(world, batch, 56) not in words


def test_no_weight_is_said_of_a_day_that_is_over(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    forecast = forecast_of(batch)
    for day in (round(forecast.foretold["ready_day"]["p50"]) + 2, 70, 700):
        world.now = batch.cut_at + timedelta(days=day)
        told = bar_on(forecast.asked["days"], forecast.foretold, day)
        assert f"Today a bar {bar_said(told)} is still in it." in words_of(world, batch)


def test_where_it_dries_too_slowly_to_tell_it_is_the_latest_day_and_today_after_it(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    forecast = forecast_of(batch)
    never = dict.fromkeys(("p10", "p50", "p90"), 126.0)
    assert at_sale_day(never, forecast.asked["rule"], age_days=36) == 56
    assert at_sale_day(never, forecast.asked["rule"], age_days=64) == 64


def test_a_label_that_was_kept_is_shown_with_what_bars_weigh_when_it_has_to_hold(world: World) -> None:
    batch = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    label = keep_label(actor=world.actor, batch=batch, asked=asked(batch, shelf_months=12), at=world.now)
    packed, shelf = days_of(asked_again(label), forecast_of(batch), batch.cut_at.date())
    said = view_of(world, batch).verdict.label.weighs.replace("\u00a0", " ")
    low, middle, high = (f"{packed.weight_g[name]:.0f}" for name in ("p10", "p50", "p90"))
    assert f"When packed, {day_words(packed.on, today=world.now.date())}, a bar weighs about {middle} g" in said
    assert f"8 of 10 between {low} g and {high} g" in said
    assert f"{shelf.weight_g['p50']:.0f} g" in said.split("at the end of the shelf")[1]


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
    assert "such batches stay too soft" in " ".join(view_of(world, batch).verdict.outlook.sentences)
    # What comes by the latest day is no forecast once that day is over.
    world.now += timedelta(days=21)
    said = " ".join(view_of(world, batch).verdict.outlook.sentences).replace("\u00a0", " ")
    assert "such batches stay too soft" not in said
    assert "Its latest day, day 56, has passed: weigh it, and you know" in said


def test_of_one_that_may_stay_too_soft_the_page_says_why_and_what_to_do_as_its_notice_does(
    world: World, visitor: Visitor
) -> None:
    batch = pouring(world)(lye_g="132", liquid_g="400", cut_days_ago=36, lye_confirmed=True)
    world.weigh_series(batch, {day: f"{130 - 0.45 * day:.1f}" for day in range(0, 36, 7)})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    _chance, *said = Notice.objects.within(world.workshop).get(kind="soft_likely").body.splitlines()
    assert said[0].startswith("Its lye was 7.2\u00a0% short") and any(one.startswith("Next time") for one in said)
    assert list(view_of(world, batch).verdict.outlook.early) == said
    shown = unescape(visitor.words("batch", batch.pk)).replace("\u00a0", " ")
    assert " ".join(said).replace("\u00a0", " ") in shown
    # Once its latest day is over only a weighing tells, and one that dries in time has nothing to look for.
    world.now += timedelta(days=21)
    assert view_of(world, batch).verdict.outlook.early == ()
    sound = cured(world, days_ago=21, last=14)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert view_of(world, sound).verdict.outlook.early == ()


def test_without_a_forecast_the_page_is_as_before(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14)
    assert view_of(world, batch).verdict.outlook is None
    assert "8 in 10" not in text_of(visitor.get("batch", batch.pk))
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert "dry enough, 8 in 10" in text_of(visitor.get("batch", batch.pk))


def test_the_racks_say_the_window_and_a_reader_hears_what_it_is(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14, position=world.position(world.rack()))
    assert "day 21" in text_of(visitor.get("racks"))
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    first, last = (
        batch.cut_at.date() + timedelta(days=forecast_of(batch).foretold["ready_day"][name]) for name in ("p10", "p90")
    )
    same = first.month == last.month
    seen = f"{first.day}–{last.day} {last:%b}" if same else f"{first.day} {first:%b}–{last.day} {last:%b}"
    heard = f"from {first.day}{'' if same else f' {first:%b}'} to {last.day} {last:%b}, 8 in 10"
    page = visitor.get("racks")
    assert f"◷ {seen}" in page.content.decode()
    assert f"curing, day 21, dry enough {heard}" in text_of(page)
