"""The page of a batch says what its superfat is, and never changes it silently."""

import pytest

from api.batches import BatchOut
from curehouse.making.models import BatchUse
from tests.flows.test_superfats import House, lot
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


def test_a_lot_that_may_make_it_caustic_is_said_where_it_is_booked_and_on_its_page(world: World) -> None:
    house, visitor = House(world), Visitor(world)
    batch, pure = house.pour(), lot(world, house.lye, ("Purity", "99.5"))
    words = text_of(visitor.get("batch", batch.pk))
    assert "Its superfat is 2.3 % (may be 1.3 to 3.5 %), as reckoned from its formula." in words
    fields = {"lot_0": str(pure.pk), "amount_0": "150.5", "unit_0": "g"}
    assert visitor.post("batch_use", batch.pk, **fields).status_code == 302
    words = text_of(visitor.get("batch", batch.pk))
    assert "may be caustic. Its superfat is −0.2 % (may be −1.2 to 1 %), by the lots it took." in words
    assert "It may be caustic by the lots it took: its bars go to nobody before this check is passed." in words
    assert "may be caustic" in text_of(visitor.get("today"))
    use = BatchUse.objects.within(world.workshop).get()
    assert visitor.post("movement_take_back", use.movement_id, reason="another lot").status_code == 302
    words = text_of(visitor.get("batch", batch.pk))
    assert "Its superfat is 2.3 % (may be 1.3 to 3.5 %), as reckoned from its formula." in words
    assert "It may be caustic" not in words


def test_the_api_gives_its_figures(world: World) -> None:
    batch = House(world).pour()
    given = BatchOut(batch).data
    assert (given["superfat_by_lots"], given["superfat_middle"]) == (False, "0.0239")
