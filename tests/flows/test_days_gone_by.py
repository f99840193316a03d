"""Where the days foretold are over: weigh it, said of a batch that was not weighed since, and what stands of one that was."""

from datetime import timedelta

import pytest

from curehouse.curing.models import Cure, Forecast
from curehouse.flows.assess import assess_all_this_morning, assess_batch
from curehouse.flows.forecast_notices import renew_all_outlooks
from curehouse.flows.foretell import foretell_wanting
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from curehouse.web.reading.batch import read_verdict
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.forecast import short_window
from tests.flows.test_foretell import cured
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

WEIGH = "9 of 10 such batches are dry enough by now: weigh it, and you know."


@pytest.fixture
def batch(world: World) -> Batch:
    """Return a batch on day 45 that was weighed up to day 28 and still loses too much."""
    batch = world.batch(cut_days_ago=45, formula_name="Late one", position=world.position(world.rack()))
    world.weigh_series(batch, {0: "130.0", 7: "125.0", 14: "122.0", 21: "119.5", 28: "117.5"})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    foretold_for(world, batch, (30.0, 33.0, 38.0))
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    return batch


def foretold_for(world: World, batch: Batch, ready: tuple[float, float, float]) -> None:
    """Let the batch's forecast name other days."""
    old = Cure.objects.within(world.workshop).select_related("forecast").get(batch=batch).forecast
    told = {**old.foretold, "ready_day": dict(zip(("p10", "p50", "p90"), ready, strict=True)), "soft_probability": 0.0}
    columns = ("workshop", "batch", "moment", "method", "record", "prior", "calibration", "room", "asked", "beside")
    row = Forecast.unscoped.create(
        **{name: getattr(old, name) for name in columns}, fingerprint=f"{ready}", foretold=told, written_at=world.now
    )
    Cure.objects.within(world.workshop).filter(batch=batch).update(forecast=row, forecast_wanted_at=None)


def weigh(world: World, batch: Batch, *, day: int, weight: str = "115.9") -> None:
    world.now += timedelta(hours=2)
    world.weigh_series(batch, {day: weight})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)


def said(world: World, batch: Batch) -> str:
    outlook = read_verdict(Batch.objects.within(world.workshop).get(pk=batch.pk), calendar(world)).outlook
    return outlook.sentences[0].replace("\u00a0", " ")


def calendar(world: World) -> Calendar:
    return Calendar(world.workshop, world.now)


def short(world: World, batch: Batch) -> object:
    cures = Cure.objects.within(world.workshop).going_on().with_forecast().with_obstacles()
    return short_window(cures.get(batch=batch), calendar(world))


def test_one_that_was_not_weighed_since_is_to_be_weighed(world: World, batch: Batch) -> None:
    assert said(world, batch) == WEIGH
    assert "weigh it" in short(world, batch).said


def test_of_one_that_was_weighed_today_it_is_said_what_it_lacks(world: World, batch: Batch) -> None:
    weigh(world, batch, day=37, weight="116.9")
    weigh(world, batch, day=45, weight="115.3")
    words = said(world, batch)
    assert words.startswith(
        "9 of 10 such batches are dry enough by now. Weighed today, this one is not called dry enough yet. Losing "
    )
    assert words.endswith("% a week; dry enough at 0.75 % or less.")
    outlook = read_verdict(Batch.objects.within(world.workshop).get(pk=batch.pk), calendar(world)).outlook
    assert (outlook.window, outlook.ready_window) == ("", None)
    assert short(world, batch) is None


def test_of_one_that_was_weighed_after_those_days_too(world: World, batch: Batch) -> None:
    weigh(world, batch, day=35, weight="117.0")
    weigh(world, batch, day=42)
    assert "Weighed Sat 7 Mar, this one is not called dry enough yet. Losing" in said(world, batch)


def test_once_it_is_so_long_ago_that_nobody_knows_it_is_to_be_weighed(world: World, batch: Batch) -> None:
    weigh(world, batch, day=42)
    world.now += timedelta(days=15)
    assess_all_this_morning(workshop=world.workshop, at=world.now)
    assert said(world, batch) == WEIGH


def test_one_that_waits_for_a_figure_is_said_to_wait_for_it(world: World) -> None:
    batch = world.batch(cut_days_ago=45, formula_name="Late one")
    world.weigh_series(batch, {42: "118.0", 45: "117.9"})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    foretold_for(world, batch, (28.0, 33.0, 38.0))
    assert said(world, batch).endswith("No weekly loss yet: the first weighing must be five days back or more.")


def test_the_notice_ends_with_what_is_true(world: World) -> None:
    batch = cured(world, days_ago=36, last=28)
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    foretold_for(world, batch, (36.0, 38.0, 40.0))
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    notice = Notice.objects.within(world.workshop).get(kind="ready_soon")
    world.now += timedelta(days=7)
    world.weigh_series(batch, {35: "120.2", 42: "119.0"})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    foretold_for(world, batch, (36.0, 38.0, 40.5))
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    notice.refresh_from_db()
    assert notice.state == "withdrawn"
    assert notice.closed_why.replace("\u00a0", " ").startswith("The days it was foretold for have passed. Weighed ")
    assert "this one is not called dry enough yet. Losing 1 %" in notice.closed_why.replace("\u00a0", " ")


def test_today_sends_nobody_to_weigh_what_was_weighed_today(
    world: World, batch: Batch, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_clock(monkeypatch, world.now)
    visitor = Visitor(world)
    assert "weigh it" in visitor.words("today").split("Ready next")[1]
    weigh(world, batch, day=45)
    assert "Ready next" not in visitor.words("today")
    assert "weigh it" not in visitor.words("racks")
