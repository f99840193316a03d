"""A little more, so that no freight is paid: only where that is cheaper than the freight."""

from collections.abc import Sequence
from dataclasses import replace

from curehouse.core.stock.reorder.candidate import Candidate
from curehouse.core.stock.reorder.drafted import Because
from curehouse.core.stock.reorder.kept import Seller
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS

# What is bought early lies for so long, and nothing is bought early that then lasts longer.
LIES_DAYS, MOST_COVER_DAYS, MOST_OF_A_LIFE = 120.0, 150.0, 0.5


def up_to_the_line(
    seller: Seller, chosen: Sequence[tuple[Candidate, Because]], others: Sequence[Candidate], holding_rate: float
) -> list[Candidate]:
    """Return what is to be bought more of (with its new packs) so that goods come without freight; nothing if it does not pay.

    What would be used up first is bought more of first.
    """
    packs = {one.kept.key: one.packs for one, _because in chosen}
    of_key = {one.kept.key: one for one in (*others, *(one for one, because in chosen if because is not Because.FRESH))}
    goods = sum(_price(one, one.packs) for one, _because in chosen)
    if seller.freight <= 0 or goods >= seller.free_from:
        return []
    if seller.surcharge > 0 and not any(one.offer is not None and one.offer.is_hazardous for one, _because in chosen):
        # A surcharge that nothing asks for yet is not taken on to save freight.
        of_key = {key: one for key, one in of_key.items() if one.offer is not None and not one.offer.is_hazardous}
    missing, added = seller.free_from - goods, 0.0
    while added < missing:
        step = min((s for one in of_key.values() if (s := _next(one, packs.get(one.kept.key, 0)))), default=None)
        if step is None:
            return []
        _cover, key, more = step
        before = packs.get(key, 0)
        added += _price(of_key[key], before + more) - _price(of_key[key], before)
        packs[key] = before + more
        if seller.freight <= added * holding_rate * LIES_DAYS / YEAR_DAYS:
            return []
    was = {one.kept.key: one.packs for one, _because in chosen}
    more_of = {key: count - was.get(key, 0) for key, count in packs.items()}
    return [replace(of_key[key], packs=packs[key], for_freight=more) for key, more in more_of.items() if more]


def _price(one: Candidate, packs: int) -> float:
    return 0.0 if one.offer is None else packs * one.offer.pack_price(packs)


def _next(one: Candidate, packs: int) -> tuple[float, str, int] | None:
    """Return for how long it lasts as it is, and how many packs more it may be; None if they would lie for too long."""
    if one.offer is None or one.a_day <= 0:
        return None
    more = 1 if packs else max(one.offer.minimum_packs, 1)
    lasts = (one.here + packs * one.offer.pack) / one.a_day
    then = lasts + more * one.offer.pack / one.a_day
    return (lasts, one.kept.key, more) if then < min(MOST_COVER_DAYS, MOST_OF_A_LIFE * one.offer.life_days) else None
