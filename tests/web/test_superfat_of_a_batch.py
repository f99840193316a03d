"""The page of a batch says what its superfat is, and never changes it silently."""

from decimal import Decimal

import pytest

from api.batches import BatchOut
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import BatchUse
from curehouse.making.services.facts import FactsEntry, write_facts
from curehouse.making.services.formulas import write_formula
from tests.flows.test_superfats import House, lot
from tests.formulas import formula_entry, liquid
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


def test_a_range_that_was_changed_since_the_pour_is_said_and_changes_nothing(world: World) -> None:
    """What a batch was poured by stays; its page says what today's figures would make of it."""
    visitor, oil = Visitor(world), world.material("House oil")
    write_facts(material=oil, entry=FactsEntry(saponification_low=Decimal(188), saponification_high=Decimal(192)))
    lines = (LineEntry(Role.FAT, material=oil, amount=Decimal(1000)), liquid("water", "330"))
    entry = formula_entry(lines=lines, liquid=Decimal(330), superfat=Decimal("0.08"))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    batch = world.batch(version=version, fats_g=Decimal(1000), lye_g=Decimal("124.6"))
    before = (batch.superfat_low, batch.superfat_middle, batch.superfat_high, batch.needs_check)
    assert "were changed since" not in visitor.words("batch", batch.pk)
    # A little moves nothing that anybody would mind.
    write_facts(material=oil, entry=FactsEntry(saponification_low=Decimal("187.5"), saponification_high=Decimal("192.5")))
    assert "were changed since" not in visitor.words("batch", batch.pk)
    write_facts(material=oil, entry=FactsEntry(saponification_low=Decimal(180), saponification_high=Decimal(184)))
    words = visitor.words("batch", batch.pk)
    # By hand: 1 - 124.6 / (1000 x 182 / 56106 x 39.997) = 3.96 %.
    assert "The ranges of its fats were changed since: by them it would be 3.9 %" in words
    assert "What was reckoned then stays." in words
    assert "caustic by them" not in words
    write_facts(material=oil, entry=FactsEntry(saponification_low=Decimal(172), saponification_high=Decimal(176)))
    assert "It may be caustic by them: check it before its bars leave." in visitor.words("batch", batch.pk)
    batch.refresh_from_db()
    assert (batch.superfat_low, batch.superfat_middle, batch.superfat_high, batch.needs_check) == before


def test_a_certificate_is_not_moved_by_a_range(world: World) -> None:
    house, visitor = House(world), Visitor(world)
    batch = house.pour()
    write_facts(material=house.olive, entry=FactsEntry(saponification_low=Decimal(170), saponification_high=Decimal(171)))
    assert "were changed since" not in visitor.words("batch", batch.pk)
