from inventory.models.lots import Irregular, Lot, LotCorrection, LotFile, LotRuling, LotValue
from inventory.models.movements import MOST_ON_HAND, Count, Movement
from inventory.models.things import Material, Supplier

__all__ = [
    "MOST_ON_HAND",
    "Count",
    "Irregular",
    "Lot",
    "LotCorrection",
    "LotFile",
    "LotRuling",
    "LotValue",
    "Material",
    "Movement",
    "Supplier",
]
