"""In another time zone days begin elsewhere, so what is known of every cure is another, and what is foretold by it."""

from datetime import timedelta

import pytest

from curehouse.curing.models import CureLearning, CureRecord
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.preferences import choose
from tests.flows.test_foretell import again, cure_of, cured
from tests.flows.test_records_read_anew import night, taken_out
from tests.world import World

pytestmark = pytest.mark.django_db


def test_another_time_zone_reads_every_record_anew_and_foretells_by_its_days(world: World) -> None:
    going_on, over = cured(world, days_ago=29, last=21), cured(world, days_ago=40, last=28)
    taken_out(world, over)
    night(world)
    was = {one.pk: cure_of(one).record.content for one in (going_on, over)}
    forecast = cure_of(going_on).forecast
    # Cut at nine and weighed at ten (UTC): an hour before midnight there, and on the day after.
    choose(workshop=world.workshop, changes={"time_zone": "Pacific/Kiritimati"}, at=world.now)
    world.workshop.refresh_from_db()
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(minutes=1))
    for one in (going_on, over):
        record = cure_of(one).record.content
        assert record["cut_day"] == was[one.pk]["cut_day"]
        for bar, before in zip(record["bars"], was[one.pk]["bars"], strict=True):
            assert bar == before | {"days": [day + 1 for day in before["days"]]}
    anew = cure_of(going_on).forecast
    assert anew.fingerprint != forecast.fingerprint and again(anew) == anew.foretold
    assert CureRecord.objects.within(world.workshop).filter(pk=forecast.record_id).exists()


def test_other_round_days_want_no_forecast_and_another_time_zone_wants_all(world: World) -> None:
    batch = cured(world, days_ago=29, last=21)
    night(world)
    choose(workshop=world.workshop, changes={"round_days": [1, 4]}, at=world.now)
    assert cure_of(batch).forecast_wanted_at is None
    choose(workshop=world.workshop, changes={"time_zone": "Pacific/Kiritimati"}, at=world.now)
    assert cure_of(batch).forecast_wanted_at == world.now
    assert CureLearning.objects.within(world.workshop).get().wanted_at == world.now
