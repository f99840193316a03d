"""A bar pressed in its first weeks dents; that is no verdict on the dry one."""

from datetime import timedelta

import pytest

from curehouse.curing.models import Cure
from curehouse.flows.assess import assess_batch
from tests.world import World

DRY = {0: "130.0", 8: "123.5", 15: "121.2", 22: "120.4", 29: "120.0"}


@pytest.mark.parametrize(("pressed_on", "state"), [(8, "check_due"), (29, "too_soft")])
def test_only_a_dent_of_late_makes_a_dry_batch_too_soft(world: World, pressed_on: int, state: str) -> None:
    batch = world.batch(cut_days_ago=30)
    for day, weight_g in DRY.items():
        for letter in "ABC":
            moment = batch.cut_at + timedelta(days=day, hours=1)
            world.weigh(world.bar(batch, letter), weight_g, moment=moment, firmness="dents" if day == pressed_on else "")
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    assert Cure.objects.within(world.workshop).get(batch=batch).state == state
