"""Years of a storeroom's ledger, written in bulk: for measuring, not for testing rules."""

from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Movement

LOTS_A_MATERIAL = 10
USES_A_LOT = 19
_KINDS = ("fat", "lye", "liquid", "additive", "fragrance", "colour")
_CAME, _USED, _LEFT = Decimal(25_000), Decimal(1_250), Decimal(1_250)


def furnish_stock(workshop: Workshop, materials: int, now: datetime) -> dict[str, str]:
    """Write so many materials of ten lots and twenty movements a lot; return the pages' addresses."""
    today = now.date()
    things = Material.unscoped.bulk_create(
        Material(
            workshop=workshop,
            name=f"Material {n:03}",
            kind=_KINDS[n % 6],
            measure=Material.Measure.GRAMS,
        )
        for n in range(materials)
    )
    lots = []
    for number in range(materials * LOTS_A_MATERIAL):
        age = number // materials
        is_here = age < 2
        received = today - timedelta(days=60 + 180 * age)
        lots.append(
            Lot(
                workshop=workshop,
                material=things[number % materials],
                number=number + 1,
                received_on=received,
                # Some expire soon, most last for a year.
                best_before=today + timedelta(days=number % 700 - 20) if is_here else received + timedelta(days=400),
                unit_cost=Decimal("0.008"),
                standing="quarantine" if is_here and number % 50 == 0 else "released",
                on_hand=_LEFT if is_here else 0,
                written_at=now - timedelta(days=60 + 180 * age),
            )
        )
    written = Lot.unscoped.bulk_create(lots, batch_size=500)
    Movement.unscoped.bulk_create(_movements(workshop, written), batch_size=500)
    return {"storeroom": "/storeroom/", "material": f"/materials/{things[0].pk}/", "lot": f"/lots/{written[0].pk}/"}


def _movements(workshop: Workshop, lots: list[Lot]) -> list[Movement]:
    rows = []
    for lot in lots:
        came = {"workshop": workshop, "lot": lot, "source": "import", "written_at": lot.written_at}
        rows.append(Movement(kind="receive", amount=_CAME, moment=lot.written_at, **came))
        for use in range(USES_A_LOT):
            used = _USED if lot.on_hand or use else _USED * 2
            rows.append(Movement(kind="use", amount=-used, moment=lot.written_at + timedelta(days=3 * use + 1), **came))
    return rows
