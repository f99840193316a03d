"""Fats of which the scale can show nothing: what happened is kept, its superfat is not known, and its check is asked for."""

from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.flows.superfats import renew_superfats
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch
from curehouse.making.services import LiquidEntry, lock_batch
from curehouse.making.services.formulas import write_formula
from tests.api.device import Device
from tests.factories import ScaleFactory
from tests.flows.test_superfats import lot
from tests.flows.test_superfats_by_hand import ByHand
from tests.formulas import READ, formula_entry
from tests.world import World

pytestmark = pytest.mark.django_db


def test_a_pour_of_less_fat_than_the_scale_can_tell_is_kept_and_needs_its_check(world: World) -> None:
    coarse = ScaleFactory(workshop=world.workshop, name="Floor scale", step_g=Decimal(1))
    version = write_formula(actor=world.actor, entry=formula_entry(scale=coarse, confirmed=READ), at=world.now)
    sent = {
        "version": version.pk,
        "poured_at": (world.now - timedelta(days=2)).isoformat(),
        "fats_g": "0.5",
        "lye_g": "0.06",
        "liquids": [{"kind": "water", "mass_g": "0.2"}],
    }
    answer = Device(world).post("batches/", sent)
    assert answer.status_code == 201, answer.content
    batch = Batch.objects.within(world.workshop).get(pk=answer.json()["id"])
    assert (batch.needs_check, batch.check_by_formula, batch.superfat_middle) == (True, True, None)
    # What is booked to it later lifts nothing.
    oil = lot(world, world.material("Olive oil"), ("SAP", "190"))
    book_use(actor=world.actor, batch=batch, lines=[UseLine(oil, Decimal("0.3"))], used_at=world.now, at=world.now)
    renew_superfats(batches=[lock_batch(batch)], at=world.now)
    batch.refresh_from_db()
    assert batch.needs_check


def test_lots_of_a_small_batch_by_hand_are_booked_all_the_same(world: World) -> None:
    ScaleFactory(workshop=world.workshop, name="Floor scale", step_g=Decimal(50))
    house = ByHand(world, fats_g=Decimal(48), lye_g=Decimal("6.5"), liquids=(LiquidEntry("water", Decimal(16)),))
    assert house.book((house.olive, "24"), (house.coconut, "24")).superfat_middle is None
