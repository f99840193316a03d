"""A year of ordering by the drafts of each night, all accepted: ``python -m tests.benchmarks.stock_year [SEEDS]``.

Printed is what the year costs (freight and one's own work, money that lies in stock, what expires, batches
that are late) beside a reorder level by the normal approximation with the economic order quantity for each
material by itself, at the best of four service levels; and what the drafts cost without joint orders, without
knowing what is planned, and without knowing what expires.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from math import ceil, inf, sqrt

import numpy as np
from scipy.stats import norm

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.announced import share_open
from curehouse.core.stock.reorder.fresh import FRESH_DAYS, fresh_packs
from curehouse.core.stock.reorder.kept import KEEPS_DAYS, Coming, Kept, Lot, Offered, Seller
from curehouse.core.stock.reorder.night import look
from curehouse.core.stock.reorder.things import Costs, Planned, Use
from curehouse.core.stock.reorder.unplanned import learn_season
from tests.benchmarks.stock_year_shop import SELLERS, STUFF, YEAR, Batch, batches, delivery_days, offers

COSTS = Costs()
KNOWN_DAYS = 2 * YEAR
# Of one seller: what is ordered of which material, in packs.
Orders = list[tuple[str, dict[str, int]]]
OF = {one.name: one for one in STUFF}
SELLER = {one.key: one for one in SELLERS}


@dataclass
class Shop:
    """A storeroom on its way through a year."""

    day: int
    runs: list[Batch]
    seed: int
    # Of each material: [last day, quantity].
    lots: dict[str, list[list[float]]] = field(default_factory=dict)
    # Orders on the way: material, quantity, ordered, comes.
    coming: list[tuple[str, float, int, int]] = field(default_factory=list)
    waiting: list[Batch] = field(default_factory=list)
    used: dict[str, list[tuple[int, float]]] = field(default_factory=dict)
    notices: list[int] = field(default_factory=list)
    taken: dict[str, list[float]] = field(default_factory=dict)
    cost: dict[str, float] = field(default_factory=lambda: dict.fromkeys(("orders", "holding", "expired", "late"), 0.0))
    poured: int = 0
    late: int = 0

    def here(self, name: str) -> float:
        """Return what is here of a material."""
        return sum(quantity for _last, quantity in self.lots.get(name, []))

    def planned(self, name: str) -> list[Planned]:
        """Return the runs that are announced or wait, as they stand tonight."""
        return [
            Planned(max(one.day, self.day + 1) - self.day, one.needs[name], f"{i}")
            for i, one in enumerate((*self.waiting, *(one for one in self.runs if one.announced <= self.day < one.day)))
            if name in one.needs
        ]


Policy = Callable[[Shop], Orders]


def open_shop(seed: int) -> Shop:
    """Return the shop on day 0, its two years behind it."""
    rng = np.random.default_rng(seed)
    every = batches(rng)
    shop = Shop(0, [one for one in every if one.day > 0], seed)
    for one in every:
        if one.day <= 0:
            shop.notices.append(one.day - one.announced)
            for name, quantity in one.needs.items():
                shop.used.setdefault(name, []).append((one.day, quantity))
    shop.taken = {seller.key: [float(delivery_days(seller.key, rng)) for _ in range(9)] for seller in SELLERS}
    for one in STUFF:
        a_day = sum(quantity for _day, quantity in shop.used.get(one.name, [])) / KNOWN_DAYS
        keeps = one.life_days > FRESH_DAYS
        shop.lots[one.name] = [[one.life_days * 0.6, ceil(a_day * 35 / one.pack) * one.pack]] if keeps else []
    return shop


def go_through(seed: int, policy: Policy) -> Shop:
    """Return the shop after its year."""
    shop = open_shop(seed)
    for day in range(1, YEAR + 1):
        shop.day = day
        _receive(shop)
        _pour(shop)
        for seller, packs in policy(shop):
            _order(shop, SELLER[seller], packs)
        for name, lots in shop.lots.items():
            each = OF[name].price / OF[name].pack
            shop.cost["holding"] += sum(quantity for _last, quantity in lots) * each * COSTS.holding_rate / YEAR
    return shop


def _receive(shop: Shop) -> None:
    for name, quantity, ordered, comes in [one for one in shop.coming if one[3] <= shop.day]:
        shop.lots[name].append([shop.day + OF[name].life_days, quantity])
        shop.taken[OF[name].seller].append(float(comes - ordered))
    shop.coming = [one for one in shop.coming if one[3] > shop.day]
    for name, lots in shop.lots.items():
        gone = sum(quantity for last, quantity in lots if last < shop.day)
        shop.cost["expired"] += gone * OF[name].price / OF[name].pack
        shop.lots[name] = sorted(one for one in lots if one[0] >= shop.day)


def _pour(shop: Shop) -> None:
    today = [one for one in shop.runs if one.day == shop.day]
    shop.notices += [one.day - one.announced for one in today]
    still = []
    for one in (*shop.waiting, *today):
        if any(shop.here(name) < quantity - 1e-6 for name, quantity in one.needs.items()):
            shop.late += one.day == shop.day
            shop.cost["late"] += COSTS.late_day + COSTS.late_batch * (one.day == shop.day)
            still.append(one)
            continue
        shop.poured += 1
        for name, quantity in one.needs.items():
            _take(shop.lots[name], quantity)
            shop.used.setdefault(name, []).append((shop.day, quantity))
    shop.waiting = still


def _take(lots: list[list[float]], quantity: float) -> None:
    while quantity > 1e-9 and lots:
        part = min(quantity, lots[0][1])
        lots[0][1] -= part
        quantity -= part
        if lots[0][1] < 1e-9:
            lots.pop(0)


def _order(shop: Shop, seller: Seller, packs: dict[str, int]) -> None:
    # By seller and day, so that every rule meets the same deliveries and differs by what it orders alone.
    chance = np.random.default_rng([shop.seed, SELLERS.index(seller), shop.day])
    comes = shop.day + delivery_days(seller.key, chance)
    goods = sum(count * OF[name].price for name, count in packs.items())
    shop.cost["orders"] += seller.work + (0 if goods >= seller.free_from else seller.freight)
    shop.cost["orders"] += seller.surcharge if any(OF[name].is_hazardous for name in packs) else 0
    shop.coming += [(name, count * OF[name].pack, shop.day, comes) for name, count in packs.items()]


def kept(shop: Shop, sold: dict[str, Offered]) -> list[Kept]:
    """Return the storeroom as a night looks at it."""
    return [
        Kept(
            one.name,
            [Use(day - shop.day, quantity) for day, quantity in shop.used.get(one.name, [])],
            KNOWN_DAYS + shop.day,
            [Lot(str(i), quantity, last - shop.day) for i, (last, quantity) in enumerate(shop.lots[one.name])],
            [
                Coming(str(i), quantity, _from_today(sold[one.name].lead, shop.day - ordered), one.life_days)
                for i, (name, quantity, ordered, _comes) in enumerate(shop.coming)
                if name == one.name
            ],
            shop.planned(one.name),
            [sold[one.name]],
        )
        for one in STUFF
    ]


def _from_today(lead: LeadTime, age: int) -> LeadTime:
    later = lead.still_open_after(age)
    return LeadTime(later.chances, max(later.first_day - age, 0))


def drafted(*, joint: bool = True, planned: bool = True, expiry: bool = True) -> Policy:
    """Return the policy that accepts each night's drafts, with all it knows or without some of it."""

    def policy(shop: Shop) -> Orders:
        sold = offers(shop.taken)
        room = kept(shop, sold)
        if not planned:
            room = [replace(one, planned=()) if OF[one.key].life_days > FRESH_DAYS else one for one in room]
        if not expiry:
            room = [_never_expires(one) if OF[one.key].life_days > FRESH_DAYS else one for one in room]
        sellers: Sequence[Seller] = SELLERS
        if not joint:
            sellers = [replace(SELLER[one.seller], key=one.name) for one in STUFF]
            room = [replace(one, offers=[replace(offer, seller=one.key) for offer in one.offers]) for one in room]
        month = int((shop.day % YEAR) * 12 / YEAR)
        night = look(
            room, sellers, costs=COSTS, unplanned=share_open(shop.notices) if planned else (),
            season=learn_season(room, first_month=month, day_of_month=int(shop.day % YEAR - month * YEAR / 12) + 1),
        )  # fmt: skip
        return [
            (OF[draft.lines[0].kept.key].seller, {line.kept.key: line.packs for line in draft.lines}) for draft in night.drafts
        ]

    return policy


def _never_expires(one: Kept) -> Kept:
    return replace(
        one,
        lots=[replace(lot, last_day=inf) for lot in one.lots],
        coming=[replace(coming, life_days=KEEPS_DAYS) for coming in one.coming],
        offers=[replace(offer, life_days=KEEPS_DAYS) for offer in one.offers],
    )


def textbook(service: float) -> Policy:
    """Return the policy of a normal reorder level and the economic order quantity, each material by itself.

    What does not keep for a month is bought for planned runs here too, and nothing for longer than its life.
    """

    def policy(shop: Shop) -> Orders:
        sold, orders = offers(shop.taken), []
        for one in kept(shop, sold):
            stuff, seller = OF[one.key], SELLER[OF[one.key].seller]
            if stuff.life_days <= FRESH_DAYS:
                packs = fresh_packs(one, sold[one.key], 1)
            else:
                waits = sum(batch.needs.get(one.key, 0.0) for batch in shop.waiting)
                position = shop.here(one.key) + sum(coming.quantity for coming in one.coming) - waits
                packs = _textbook_packs(one, seller, stuff.pack, stuff.price, position, shop.taken[stuff.seller], service)
            if packs:
                orders.append((stuff.seller, {one.key: packs}))
        return orders

    return policy


def _textbook_packs(
    one: Kept, seller: Seller, pack: float, price: float, position: float, taken: Sequence[float], service: float
) -> int:
    days = np.zeros(YEAR)
    for use in one.uses:
        if -YEAR < use.day <= 0:
            days[-use.day] += use.quantity
    mean, spread = float(days.mean()), float(days.std(ddof=1))
    lead, lead_spread = float(np.mean(taken)) + 1, float(np.std(taken, ddof=1))
    level = mean * lead + norm.ppf(service) * sqrt(lead * spread**2 + mean**2 * lead_spread**2)
    if position > level or mean == 0:
        return 0
    quantity = sqrt(2 * (seller.work + seller.freight) * mean * YEAR / (COSTS.holding_rate * price / pack))
    return ceil(max(min(quantity, mean * one.offers[0].life_days), level - position, one.offers[0].minimum_packs * pack) / pack)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("seeds", nargs="?", type=int, default=3)
    seeds = range(1, parser.parse_args().seeds + 1)
    rules = {
        **{f"normal, each by itself, {service:.1%}": textbook(service) for service in (0.9, 0.95, 0.975, 0.99)},
        "drafts": drafted(),
        "drafts, each by itself": drafted(joint=False),
        "drafts, plan not known": drafted(planned=False),
        "drafts, expiry not known": drafted(expiry=False),
    }
    print("| rule | orders | holding | expired | late | a year | batches on time |\n|---|---|---|---|---|---|---|")
    for name, rule in rules.items():
        shops = [go_through(seed, rule) for seed in seeds]
        parts = [float(np.mean([shop.cost[part] for shop in shops])) for part in ("orders", "holding", "expired", "late")]
        ran = sum(shop.poured + len(shop.waiting) for shop in shops)
        in_time = 1 - sum(shop.late for shop in shops) / ran
        print(f"| {name} | " + " | ".join(f"{part:.0f}" for part in (*parts, sum(parts))) + f" | {in_time:.1%} |", flush=True)


if __name__ == "__main__":
    main()
