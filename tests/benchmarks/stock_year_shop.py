"""An invented soap house of 30 materials, 6 sellers and 12 formulas, and three years of its runs."""

from dataclasses import dataclass, field

import numpy as np

from curehouse.core.stock.lead_time import lead_time
from curehouse.core.stock.reorder.kept import Offered, Seller

YEAR = 365


@dataclass(frozen=True)
class Stuff:
    """A material: how it is bought, and for how long it keeps as it comes."""

    name: str
    seller: str
    pack: float
    price: float
    life_days: int
    minimum_packs: int = 1
    is_hazardous: bool = False


# Grams (labels and boxes: pieces), and the price of a pack.
STUFF = (
    Stuff("olive", "oils", 5000, 38, 540),
    Stuff("rapeseed", "oils", 5000, 19, 360),
    Stuff("sunflower", "oils", 5000, 22, 450),
    Stuff("coconut", "oils", 5000, 31, 700),
    Stuff("palm-free stearin", "oils", 2500, 24, 700),
    Stuff("rice bran", "oils", 2000, 17, 300),
    Stuff("shea", "butters", 2000, 29, 600),
    Stuff("cocoa butter", "butters", 1000, 21, 600),
    Stuff("castor", "butters", 1000, 11, 600),
    Stuff("hemp", "butters", 1000, 16, 180),
    Stuff("almond", "butters", 1000, 18, 270),
    Stuff("NaOH", "chemist", 2000, 9, 700, is_hazardous=True),
    Stuff("KOH", "chemist", 1000, 8, 500, is_hazardous=True),
    Stuff("citric acid", "chemist", 1000, 7, 700),
    Stuff("sea salt", "chemist", 1000, 3, 700),
    Stuff("goat milk powder", "dairy", 1000, 19, 200),
    Stuff("fresh goat milk", "dairy", 1000, 4, 6),
    Stuff("oat", "dairy", 1000, 3, 240),
    Stuff("honey", "dairy", 500, 7, 500),
    Stuff("lavender", "scents", 100, 13, 500, 2),
    Stuff("sweet orange", "scents", 100, 7, 330, 2),
    Stuff("cedar", "scents", 100, 11, 600),
    Stuff("rosemary", "scents", 100, 9, 500),
    Stuff("litsea", "scents", 100, 8, 330),
    Stuff("green clay", "scents", 500, 6, 700),
    Stuff("pink clay", "scents", 500, 7, 700),
    Stuff("charcoal", "scents", 100, 4, 700),
    Stuff("madder", "scents", 100, 9, 700),
    Stuff("wrap", "printer", 200, 18, 900),
    Stuff("box", "printer", 100, 24, 900),
)
SELLERS = (
    Seller("oils", 5, 12, 220),
    Seller("butters", 5, 9, 150),
    Seller("chemist", 5, 8, 120, 11),
    Seller("dairy", 5, 7, 90),
    Seller("scents", 5, 6, 100),
    Seller("printer", 5, 10, 160),
)
# Days to delivery: mean and spread.
DELIVERY = {"oils": (6, 2), "butters": (8, 3), "chemist": (5, 1.5), "dairy": (3, 1), "scents": (7, 3), "printer": (12, 4)}
# Shares of the oils, and how often the formula is made.
_LYE, _BARS = ("NaOH", 0.14), ("wrap", 0.011)
FORMULAS = (
    ({"olive": 0.5, "coconut": 0.25, "shea": 0.15, "castor": 0.1, "goat milk powder": 0.04, "lavender": 0.03}, 4),
    ({"olive": 0.4, "coconut": 0.3, "rapeseed": 0.3, "fresh goat milk": 0.35, "oat": 0.03, "honey": 0.02}, 1.5),
    ({"rapeseed": 0.45, "coconut": 0.3, "palm-free stearin": 0.25, "sweet orange": 0.03, "madder": 0.004}, 3),
    ({"olive": 0.7, "coconut": 0.2, "castor": 0.1, "green clay": 0.02, "rosemary": 0.025}, 2.5),
    ({"sunflower": 0.4, "coconut": 0.3, "shea": 0.2, "castor": 0.1, "cedar": 0.03, "charcoal": 0.005, "box": 0.011}, 2),
    ({"hemp": 0.2, "olive": 0.4, "coconut": 0.3, "cocoa butter": 0.1, "litsea": 0.03}, 1),
    ({"almond": 0.25, "olive": 0.4, "coconut": 0.25, "cocoa butter": 0.1, "pink clay": 0.02, "goat milk powder": 0.04}, 1.5),
    ({"rice bran": 0.3, "coconut": 0.3, "shea": 0.2, "olive": 0.2, "lavender": 0.03, "box": 0.011}, 1.5),
    ({"coconut": 0.8, "castor": 0.2, "sea salt": 0.5, "litsea": 0.025}, 1),
    ({"olive": 0.6, "coconut": 0.3, "KOH": 0.02, "citric acid": 0.02, "honey": 0.03, "oat": 0.04}, 1.5),
    ({"rapeseed": 0.5, "coconut": 0.3, "shea": 0.2, "rosemary": 0.02, "charcoal": 0.004}, 1.5),
    ({"sunflower": 0.3, "olive": 0.3, "coconut": 0.3, "cocoa butter": 0.1, "fresh goat milk": 0.3, "lavender": 0.02}, 1),
)
RUNS_A_YEAR = 130
SEASON = (0.7, 0.8, 0.9, 0.9, 0.9, 0.8, 0.7, 0.9, 1.2, 1.6, 1.6, 1.0)


@dataclass
class Batch:
    """A run: when it is announced and to be poured, and what it takes."""

    announced: int
    day: int
    needs: dict[str, float] = field(default_factory=dict)


def batches(rng: np.random.Generator) -> list[Batch]:
    """Return two years that are past (day 0 is the last of them) and the one to come, by the days of their pours."""
    weights = np.array([often for _parts, often in FORMULAS])
    found = []
    for day in range(-2 * YEAR + 1, YEAR + 30):
        month = int((day % YEAR) * 12 / YEAR)
        for _ in range(rng.poisson(RUNS_A_YEAR / YEAR * SEASON[month])):
            parts = FORMULAS[rng.choice(len(FORMULAS), p=weights / weights.sum())][0]
            oils = float(rng.choice([3000, 4000, 5000, 7500, 10000], p=[0.15, 0.3, 0.3, 0.15, 0.1]))
            ahead = int(rng.integers(5, 29)) if rng.random() < 0.8 else int(rng.integers(0, 3))
            needs = {name: round(oils * share, 1) for name, share in (*parts.items(), _LYE, _BARS)}
            found.append(Batch(day - ahead, day, needs))
    return found


def delivery_days(seller: str, rng: np.random.Generator) -> int:
    """Return in how many days an order comes."""
    mean, spread = DELIVERY[seller]
    return max(1, round(float(rng.gamma((mean / spread) ** 2, spread**2 / mean))))


def offers(taken: dict[str, list[float]]) -> dict[str, Offered]:
    """Return what is sold, with what deliveries *taken* so far tell of the next."""
    leads = {seller: lead_time(days, float(np.mean(days))) for seller, days in taken.items()}
    return {
        one.name: Offered(
            one.name, one.seller, one.pack, one.price, leads[one.seller], one.minimum_packs, (), one.life_days, one.is_hazardous
        )
        for one in STUFF
    }
