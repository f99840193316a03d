"""How likely batches are ready by a day: asked of the API, the same as the racks say."""

from dataclasses import asdict
from datetime import timedelta

from curehouse.common.time import local_day
from curehouse.core.cure.foretold_weights import bar_on
from tests.api.device import Device, problem
from tests.web.test_racks_ahead import ahead, cure_of, foretold
from tests.world import World


def test_the_api_says_the_chance_that_the_racks_say(world: World, device: Device) -> None:
    cure = cure_of(foretold(world))
    for days in (5, 12, 20, 60):
        day = (world.now + timedelta(days=days)).date().isoformat()
        (told,) = device.rows("forecasts/", latest="true", ready_on=day)
        chance = ahead(world, days).chance(cure)
        assert told["ready_chance"] == {"low": chance.low, "high": chance.high}
    (told,) = device.rows("forecasts/", latest="true")
    assert told["ready_chance"] is None


def test_a_day_that_is_none_is_refused(world: World, device: Device) -> None:
    foretold(world)
    problem(device.get("forecasts/", ready_on="tomorrow"), 400, field="ready_on")


def test_the_api_says_what_a_bar_weighs_on_the_day_by_which_half_are_dry_and_on_one_that_is_asked_for(
    world: World, device: Device
) -> None:
    cure = cure_of(foretold(world))
    told, days = cure.forecast.foretold, cure.forecast.asked["days"]
    middle = told["ready_day"]["p50"]
    (row,) = device.rows("forecasts/", latest="true")
    expected = bar_on(days, told, middle)
    on = local_day(cure.batch.cut_at, world.workshop.time_zone) + timedelta(days=round(middle))
    assert row["at_ready"] == {"on": on.isoformat(), **asdict(expected)}
    assert row["on_that_day"] is None
    (row,) = device.rows("forecasts/", latest="true", ready_on=(on + timedelta(days=3)).isoformat())
    assert row["on_that_day"]["weight_g"] == bar_on(days, told, middle + 3).weight_g
    (row,) = device.rows("forecasts/", latest="true", ready_on="2001-01-01")
    assert row["on_that_day"] is None
