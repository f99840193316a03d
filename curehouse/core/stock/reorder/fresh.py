"""What does not keep is bought for runs that have their day, and for nothing else."""

from math import ceil

from curehouse.core.stock.reorder.kept import Kept, Offered
from curehouse.core.stock.supplied import Demand, Supply, serve

FRESH_DAYS = 30
# So surely it is to be here on the day of the run.
SURELY = 0.9


def fresh_packs(kept: Kept, offer: Offered, review_days: int) -> int:
    """Return how many packs planned runs need of what must be ordered today, and that will keep until them.

    It must be today for a run that an order of the next look would miss; runs after it that the same delivery keeps
    for are bought for with it.
    """
    safe = offer.lead.within(SURELY)
    short = _short(kept)
    first = min((day for day, _quantity in short), default=None)
    if first is None or first > safe + review_days:
        return 0
    comes = offer.lead.within(0.5)
    wanted = sum(quantity for day, quantity in short if day <= comes + offer.life_days)
    return max(ceil(wanted / offer.pack - 1e-9), offer.minimum_packs) if wanted > 0 else 0


def _short(kept: Kept) -> list[tuple[int, float]]:
    """Return by day what planned runs lack of what is here and on its way; for one of today nothing comes any more."""
    supplies = [Supply(lot.key, lot.quantity, 0, lot.last_day) for lot in kept.lots if lot.last_day >= 0]
    for one in kept.coming:
        # Sent for again it would come no sooner.
        day = one.days.within(0.5)
        supplies.append(Supply(one.key, one.quantity, day, day + one.life_days))
    runs = sorted((one for one in kept.planned if one.day >= 0), key=lambda one: one.day)
    served = serve(supplies, [Demand(one.run, one.day, one.quantity) for one in runs])
    return [
        (one.day, one.quantity - got)
        for one, got in zip(runs, served.amounts, strict=True)
        if one.quantity - got > 1e-6 and one.day > 0
    ]
