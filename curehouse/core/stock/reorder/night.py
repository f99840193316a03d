"""What to order tonight: due materials, what had best come with them, and how much of each.

A material is due when the chance that less of it is here than goes until a later order has come is more
than the house accepts; that is weighed from what its absence costs. Once one is due, others of the same
seller that soon would be come along, and freight that a little more would save is saved.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from curehouse.core.stock.reorder.ahead import totals
from curehouse.core.stock.reorder.besides import besides_planned
from curehouse.core.stock.reorder.candidate import AHEAD_DAYS, Ahead, Candidate, accepted_risk, days_ahead
from curehouse.core.stock.reorder.drafted import Because, Draft, Line, Night, Watched
from curehouse.core.stock.reorder.freight import up_to_the_line
from curehouse.core.stock.reorder.fresh import FRESH_DAYS, fresh_packs
from curehouse.core.stock.reorder.kept import Kept, Offered, Seller
from curehouse.core.stock.reorder.position import used_by_day
from curehouse.core.stock.reorder.reasons import reasons
from curehouse.core.stock.reorder.sizing import MOST_OF_A_LIFE, cheapest, choices, sizes_of
from curehouse.core.stock.reorder.standing import standings
from curehouse.core.stock.reorder.things import Costs, Use
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Floats, Rate, Season, Sizes, learn_rate, learn_sizes, pooled_rate

# What would be due within this many days, with this chance, comes with what is due.
# Of what was never used, a use beside what is planned is looked for once in so long (our own choice, no source).
NEVER_USED_DAYS = 730.0
MOST_JOINED_DAYS, JOINED_RISK = 60.0, 0.25


def look(
    kept: Sequence[Kept],
    sellers: Sequence[Seller],
    *,
    season: Season,
    unplanned: Sequence[float] | Floats,
    costs: Costs,
    review_days: int = 1,
    usual_rate: float | None = None,
) -> Night:
    """Return what to order tonight; it is looked again in *review_days* days.

    *unplanned*: from ``announced.share_open``, the share of use on each day ahead that is not planned yet by past notices.
    *usual_rate*: uses a day of a material, in the mean; learnt of *kept* where it is not given.
    Materials that were never used and stand in no plan are left alone.

    Raises
    ------
    ValueError
        An offer is of a seller that is not among *sellers*.
    """  # fmt: skip
    of_key = {seller.key: seller for seller in sellers}
    for one in kept:
        for offer in one.offers:
            if offer.seller not in of_key:
                raise ValueError(
                    f"{offer.key} is sold by {offer.seller}, of whom nothing is told: say what an order there costs"
                )
    learnt = _learnt(kept, season, usual_rate)
    ahead = days_ahead(season, unplanned)
    found = _stand(_size(_candidates(learnt, ahead), of_key, costs), costs, review_days)
    drafts = [
        draft
        for seller in sellers
        if (draft := _draft(seller, [one for one in found if one.offer and one.offer.seller == seller.key], costs, review_days))
    ]
    watched = tuple(Watched(one.kept, one.here, one.risk, one.risk_accepted, one.a_day) for one in found)
    return Night(tuple(drafts), watched)


Learnt = list[tuple[Kept, Rate, Sizes]]


def _learnt(kept: Sequence[Kept], season: Season, usual_rate: float | None) -> Learnt:
    known = [one for one in kept if one.uses or one.planned]
    # Of what is only planned nothing is known yet: it tells nothing of the others.
    pooled = pooled_rate([one for one in kept if one.uses], season) if usual_rate is None else usual_rate
    return [(one, *_learn(one, season, pooled)) for one in known]


def _candidates(learnt: Learnt, ahead: Ahead) -> list[Candidate]:
    found = []
    for one, rate, sizes in learnt:
        unplanned = besides_planned(ahead.factors, ahead.announced, rate, sizes, one.planned)
        used = used_by_day(one, rate.mean() * sizes.mean() * np.diff(unplanned))
        found.append(Candidate(one, rate, sizes, unplanned, used, ahead.a_day(rate, sizes)))
    return found


def _learn(one: Kept, season: Season, pooled: float) -> tuple[Rate, Sizes]:
    """Return how often and how much of a material is used; of what was never used hardly more than is planned."""
    if one.uses:
        return learn_rate(one, season, pooled), learn_sizes(one.uses)
    return Rate(1.0, NEVER_USED_DAYS), learn_sizes([Use(0, run.quantity) for run in one.planned])


def _size(found: list[Candidate], sellers: dict[str, Seller], costs: Costs) -> list[Candidate]:
    """Choose of whom and how much each is bought, if it is."""
    spent = _spent_a_year(found)
    pairs = [(one, offer) for one in found for offer in one.kept.offers]
    lives = [float(min(round(offer.lead.mean()) + offer.life_days, AHEAD_DAYS)) for _one, offer in pairs]
    answers = totals(
        [one.asked(np.array([days]), np.ones(1)) for (one, _offer), days in zip(pairs, lives, strict=True)],
        [one.unplanned for one, _offer in pairs],
    )
    best: dict[str, tuple[float, Candidate]] = {}
    for (one, offer), days, in_its_life in zip(pairs, lives, answers, strict=True):
        value = one.a_day * YEAR_DAYS * offer.price / offer.pack
        seller = sellers[offer.seller]
        share = _share_of_order(seller, offer, value, max(spent.get(offer.seller, 0.0), value), costs)
        size = cheapest(
            sizes_of(
                offer, choices(offer, one.a_day), in_its_life=in_its_life, here=one.here_within(int(days)), a_day=one.a_day,
                share_of_order=share, holding_rate=costs.holding_rate,
            )
        )  # fmt: skip
        if one.kept.key not in best or size.cost < best[one.kept.key][0]:
            best[one.kept.key] = size.cost, replace(one, offer=offer, packs=size.packs, in_its_life=in_its_life)
    return [best[one.kept.key][1] if one.kept.key in best else one for one in found]


def _share_of_order(seller: Seller, offer: Offered, value: float, spent: float, costs: Costs) -> float:
    """Return what a material bears of what an order costs beside its goods.

    That is its share of what is spent with the seller: so all would be ordered as often. What does not keep until
    the next order would be worth its cost calls for orders of its own and bears them the more, by the root of how much
    too short it keeps (of four powers tried on a year gone through neither the best nor the worst; no source).
    """
    cycle_days = _cycle_days(seller, spent, costs)
    part = max(value / max(spent, 1e-9), math.sqrt(min(1.0, cycle_days / offer.life_days)))
    return (seller.work + seller.freight) * part + (seller.surcharge if offer.is_hazardous else 0.0)


def _cycle_days(seller: Seller, spent: float, costs: Costs) -> float:
    """Return after how many days an order for all of a seller's goods is worth what it costs."""
    return float(YEAR_DAYS * np.sqrt(2 * (seller.work + seller.freight) / max(costs.holding_rate * spent, 1e-9)))


def _spent_a_year(found: Sequence[Candidate]) -> dict[str, float]:
    """Return what is spent with each seller, if everything is bought where a gram costs least."""
    spent: dict[str, float] = {}
    for one in found:
        if one.kept.offers:
            offer = min(one.kept.offers, key=lambda offer: offer.price / offer.pack)
            spent[offer.seller] = spent.get(offer.seller, 0.0) + one.a_day * YEAR_DAYS * offer.price / offer.pack
    return spent


def _stand(found: list[Candidate], costs: Costs, review_days: int) -> list[Candidate]:
    """Say of each what is here, how likely it will not do until a later order comes, and what of that is accepted."""
    done = []
    for one, stands in zip(found, standings(found, [review_days] * len(found)), strict=True):
        here = one.here_within(one.lead.within(0.9) + review_days)
        done.append(replace(one, here=here, risk=stands.risk(), risk_accepted=accepted_risk(one, costs), until_next=stands))
    return done


def _draft(seller: Seller, found: list[Candidate], costs: Costs, review_days: int) -> Draft | None:
    chosen: dict[str, tuple[Candidate, Because]] = {}
    for one in found:
        if one.offer is not None and one.offer.life_days <= FRESH_DAYS:
            packs = fresh_packs(one.kept, one.offer, review_days)
            if packs:
                chosen[one.kept.key] = replace(one, packs=packs), Because.FRESH
        elif one.risk > one.risk_accepted:
            chosen[one.kept.key] = _enough(one), Because.DUE
    if not chosen:
        return None
    keeping = [one for one in found if one.kept.key not in chosen and one.offer and one.offer.life_days > FRESH_DAYS]
    for one in _joining(seller, found, keeping, costs, review_days):
        chosen[one.kept.key] = _enough(one), Because.JOINS
    for one in up_to_the_line(seller, list(chosen.values()), keeping, costs.holding_rate):
        before = chosen.get(one.kept.key)
        chosen[one.kept.key] = one, Because.FREIGHT if before is None else before[1]
    whys = reasons([one for one, _because in chosen.values()], review_days)
    lines = [
        Line(one.kept, one.offer, one.packs, because, why, one.for_freight)
        for (one, because), why in zip(chosen.values(), whys, strict=True)
        if one.offer is not None
    ]
    return Draft(seller, tuple(lines))


def _enough(one: Candidate) -> Candidate:
    """Return it with packs added until the risk clears, as long as what is bought does not lie for most of its life."""
    if one.offer is None or one.until_next is None:
        return one
    most_days = min(MOST_OF_A_LIFE * one.offer.life_days, float(AHEAD_DAYS))
    spoken_for = sum(run.quantity for run in one.kept.planned if run.day <= one.lead.within(0.9) + one.offer.life_days)
    most = max(most_days * one.a_day, spoken_for + one.offer.pack)
    packs = one.packs
    while one.until_next.risk(packs * one.offer.pack) > one.risk_accepted and (packs + 1) * one.offer.pack < most:
        packs += 1
    return replace(one, packs=packs)


def _joining(
    seller: Seller, of_seller: Sequence[Candidate], others: Sequence[Candidate], costs: Costs, review_days: int
) -> list[Candidate]:
    """Return what would likely be due before the next order would be worth its cost."""
    spent = sum(one.a_day * YEAR_DAYS * one.offer.price / one.offer.pack for one in of_seller if one.offer)
    within = int(min(MOST_JOINED_DAYS, 1.25 * _cycle_days(seller, spent, costs)))
    then = standings(others, [review_days + within] * len(others))
    return [one for one, stands in zip(others, then, strict=True) if stands.risk() > JOINED_RISK]
