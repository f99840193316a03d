"""A kitchen scale that reads to 2 g cannot show three quarters of a per cent of a bar."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.curing.models import Cure
from curehouse.flows.assess import assess_batch
from tests.factories import ScaleFactory
from tests.world import World

DRYING = {0: "134", 7: "126", 14: "122", 21: "120", 28: "120"}


@pytest.mark.parametrize(
    ("step_g", "state", "code"),
    [("2", "curing", "scale_too_coarse"), ("1", "check_due", "scale_step"), ("0.1", "check_due", "")],
)
def test_the_scale_s_step_decides_whether_a_verdict_stands(world: World, step_g: str, state: str, code: str) -> None:
    scale = ScaleFactory(workshop=world.workshop, name="Old scale", step_g=Decimal(step_g))
    batch = world.batch(cut_days_ago=29)
    for day, weight_g in DRYING.items():
        for letter in "ABC":
            world.weigh(world.bar(batch, letter), weight_g, moment=batch.cut_at + timedelta(days=day), scale=scale)
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    cure = Cure.objects.within(world.workshop).select_related("assessment").get(batch=batch)
    assert cure.state == state
    said = {reason["code"] for reason in cure.assessment.reasons} & {"scale_too_coarse", "scale_step"}
    assert said == ({code} if code else set())
