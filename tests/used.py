"""A material with a past: used at even distances, some of it left, and sold by somebody."""

from decimal import Decimal
from typing import Any

from inventory.models import Offer
from inventory.services.movements import use
from tests.world import World

EVERY, USES = 20, 10


def used(world: World, name: str = "Olive oil", *, left: str = "300", **offer: Any) -> Offer:
    """Return an offer of a material of which a kilogram is used every twenty days, and so much is left."""
    material = world.material(name)
    lot = world.lot(str(Decimal(left) + 1000 * USES), material=material, days_here=EVERY * USES + 10)
    for uses in range(USES):
        moment = world.days_ago(EVERY * uses + 1)
        use(actor=world.actor, lot=lot, amount=Decimal(1000), moment=moment, at=world.now)
    return world.offer(material=material, **{"pack": Decimal(5000), "price": Decimal(40), "lead_days": 7, **offer})
