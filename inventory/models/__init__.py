from inventory.models.blends import Blend, BlendPart, Making, MakingTake
from inventory.models.lots import Irregular, Lot, LotCorrection, LotFile, LotRuling, LotValue
from inventory.models.movements import MOST_ON_HAND, Count, Movement
from inventory.models.offers import MOST_LEAD_DAYS, MOST_PACKS, MOST_SHELF_DAYS, Offer, OfferBreak
from inventory.models.orders import Order, OrderLine, OrderLineStep, OrderStep
from inventory.models.proposals import Proposal, PutOff
from inventory.models.store_counts import StoreCount
from inventory.models.things import Material, Supplier

__all__ = [
    "MOST_LEAD_DAYS",
    "MOST_ON_HAND",
    "MOST_PACKS",
    "MOST_SHELF_DAYS",
    "Blend",
    "BlendPart",
    "Count",
    "Irregular",
    "Lot",
    "LotCorrection",
    "LotFile",
    "LotRuling",
    "LotValue",
    "Making",
    "MakingTake",
    "Material",
    "Movement",
    "Offer",
    "OfferBreak",
    "Order",
    "OrderLine",
    "OrderLineStep",
    "OrderStep",
    "Proposal",
    "PutOff",
    "StoreCount",
    "Supplier",
]
