"""How likely batches are ready by a day: asked of the API, the same as the racks say."""

from datetime import timedelta

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
