"""The demo's storeroom: what it buys from whom, what goes into which soap. All of it invented."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.flows.demo_story import FORMULAS, Story

# name, contact
SUPPLIERS = (
    ("Harbour Oil Mill", "orders@harbour-oil.example"),
    ("Alder Lye & Salts", "desk@alder-lye.example"),
    ("Three Gables Dairy", "farm@three-gables.example"),
    ("Petal & Root", "hello@petal-root.example"),
    ("Brook Street Cartons", "boxes@brook-street.example"),
)
_MILL, _LYE, _DAIRY, _PETAL, _CARTONS = (name for name, _contact in SUPPLIERS)
BOXES = "Box for one bar"
LYE = "Sodium hydroxide, beads"
# The first deliveries came before the first soap was poured, the others a few days before they were wanted.
_FIRST_DAYS_AGO = 196
_AHEAD = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class Lot:
    """A delivery that is told by itself: days before now, days from now to its best-before."""

    days_ago: int
    amount: int
    lasts: int
    standing: str = "released"
    why: str = ""


@dataclass(frozen=True, slots=True)
class Good:
    """A material: a pack in grams or pieces, its cost, how long it keeps, what its certificates say.

    It is bought in packs when it is wanted, unless its lots are told one by one.
    """

    name: str
    kind: str
    supplier: str
    pack: int
    cost: str
    keeps_days: int | None
    values: tuple[tuple[str, str, str], ...] = ()
    lots: tuple[Lot, ...] = ()


def _fat(name: str, pack: int, cost: str, keeps_days: int, value: str, **more: object) -> Good:
    return Good(
        name, "fat", _MILL, pack, cost, keeps_days, values=(("saponification value", value, "mg KOH/g"),), **more
    )  # fmt: skip


def _milk(name: str, pack: int, cost: str, fat: str, **more: object) -> Good:
    return Good(name, "liquid", _DAIRY, pack, cost, 300, values=(("milk fat", fat, "%"),), **more)


GOODS = (
    _fat("Olive oil", 25_000, "0.0082", 540, "189.5"),
    _fat("Coconut oil", 20_000, "0.0054", 720, "256"),
    _fat("Shea butter", 10_000, "0.0115", 720, "181"),
    _fat("Sunflower oil", 10_000, "0.0031", 360, "190"),
    _fat("Castor oil", 5_000, "0.0068", 360, "180", lots=(Lot(_FIRST_DAYS_AGO, 8_000, 18), Lot(60, 5_000, 300))),
    Good(LYE, "lye", _LYE, 5_000, "0.0042", 720, values=(("purity", "98.9", "%"),)),
    _milk("Goat's milk, frozen", 5_000, "0.0034", "4.1"),
    _milk("Sheep's milk, frozen", 5_000, "0.0048", "6.9"),
    _milk("Buttermilk, frozen", 3_000, "0.0019", "0.9"),
    Good("Goat's milk powder", "additive", _DAIRY, 1_000, "0.021", None, lots=(Lot(120, 1_000, 240),)),
    Good("Oat flour", "additive", _PETAL, 2_500, "0.0024", 400),
    Good("Sea salt, fine", "additive", _LYE, 5_000, "0.0008", None),
    Good("Marigold petals", "additive", _PETAL, 500, "0.038", 330, lots=(Lot(190, 400, -9), Lot(30, 500, 300))),
    Good("Activated charcoal", "colour", _PETAL, 500, "0.026", None),
    Good("Juniper oil", "fragrance", _PETAL, 500, "0.21", 700),
    Good("Lavender oil", "fragrance", _PETAL, 500, "0.19", 700, lots=(Lot(48, 500, 560),)),
    Good("Cedarwood oil", "fragrance", _PETAL, 250, "0.11", 700, lots=(Lot(48, 250, 600),)),
    Good(BOXES, "packaging", _CARTONS, 500, "0.18", None),
)

# Mixed in the house: of what, by mass, how long it keeps, and how much of it was mixed how many days ago.
MIX = "Hedgerow mix"
MIXED_OF = (("Lavender oil", 2), ("Cedarwood oil", 1))
MIX_KEEPS_DAYS, MIXED_G, MIXED_DAYS_AGO = 180, 90, 11
# Of the fats of the soap that takes it.
MIX_SHARE = "0.015"

# What suppliers ask beside the goods: freight, no freight from, hazard surcharge, days they say it takes.
TERMS = {
    _MILL: ("8.50", "250", None, 5),
    _LYE: ("6.90", "120", "14.00", 3),
    _DAIRY: ("4.00", None, None, 2),
    _PETAL: ("5.50", "80", None, 6),
    _CARTONS: ("7.20", "150", None, 8),
}
# Ordered and on the way: from whom, sent so many days ago, packs of what. The first is late.
ORDERED = ((_LYE, 9, ((LYE, 2), ("Sea salt, fine", 1))), (_MILL, 2, (("Coconut oil", 1), ("Sunflower oil", 2))))

# Delivered yesterday, its certificate still on its way; and one that smelled of something else.
STRAYS = (
    ("Olive oil", Lot(1, 25_000, 540, "quarantine", "its certificate is still to come")),
    ("Juniper oil", Lot(75, 250, 600, "rejected", "smells of turpentine: another distillation")),
)

# Shares of the fats; those that are fats themselves come to one.
RECIPES = {
    "Goat & oat": {"Olive oil": "0.5", "Coconut oil": "0.25", "Shea butter": "0.2", "Castor oil": "0.05", "Oat flour": "0.02"},
    "Buttermilk & marigold": {
        "Olive oil": "0.45",
        "Coconut oil": "0.25",
        "Sunflower oil": "0.25",
        "Castor oil": "0.05",
        "Marigold petals": "0.008",
    },
    "Harbour charcoal": {
        "Olive oil": "0.4",
        "Coconut oil": "0.3",
        "Sunflower oil": "0.2",
        "Castor oil": "0.1",
        "Activated charcoal": "0.012",
    },
    "Juniper & salt": {
        "Coconut oil": "0.7",
        "Olive oil": "0.2",
        "Castor oil": "0.1",
        "Sea salt, fine": "0.3",
        "Juniper oil": "0.02",
    },
    "Sheep's milk plain": {"Olive oil": "0.6", "Coconut oil": "0.2", "Shea butter": "0.15", "Castor oil": "0.05"},
    "Old olive": {"Olive oil": "0.9", "Coconut oil": "0.1"},
}
MILKS = {"goat_milk": "Goat's milk, frozen", "sheep_milk": "Sheep's milk, frozen", "buttermilk": "Buttermilk, frozen"}
_STEP = Decimal("0.1")


def fats_g_of(story: Story) -> Decimal:
    """Return the fats of a batch in grams."""
    return Decimal(story.bars * FORMULAS[story.formula].fats_per_bar_g)


def wants(story: Story) -> dict[str, Decimal]:
    """Return what a batch takes from the storeroom at its pour, in grams; water comes from the tap."""
    formula, fats_g = FORMULAS[story.formula], fats_g_of(story)
    shares = {name: Decimal(share) for name, share in RECIPES[story.formula].items()}
    shares[LYE] = formula.lye_share
    shares |= {MILKS[kind]: share for kind, share, _place in formula.liquids if kind in MILKS}
    amounts = {name: (fats_g * share).quantize(_STEP) for name, share in shares.items()}
    # What rounding left over goes to the first fat, so that the fats come to the batch's own figure.
    fats = [good.name for good in GOODS if good.kind == "fat" and good.name in amounts]
    amounts[fats[0]] += fats_g - sum(amounts[name] for name in fats)
    return amounts


@dataclass(frozen=True, slots=True)
class Delivery:
    """A lot that came in at a moment."""

    good: Good
    moment: datetime
    lot: Lot


def deliveries_of(stories: Sequence[Story], *, at: datetime) -> list[Delivery]:
    """Return what came in over the half-year, in order: each pack before it was wanted."""
    goods = {good.name: good for good in GOODS}
    found = [Delivery(goods[name], at - timedelta(days=lot.days_ago), lot) for name, lot in STRAYS]
    for good in GOODS:
        found += [Delivery(good, at - timedelta(days=lot.days_ago), lot) for lot in good.lots]
        if not good.lots:
            found += _bought_as_wanted(good, stories, at=at)
    return sorted(found, key=lambda one: one.moment)


def _bought_as_wanted(good: Good, stories: Sequence[Story], *, at: datetime) -> list[Delivery]:
    first = at - timedelta(days=_FIRST_DAYS_AGO)
    found, here = [], Decimal(0)
    for moment, amount in _demands(good, stories, at=at):
        if here < amount:
            came = first if not found else moment - _AHEAD
            lasts = good.keeps_days - (at - came).days if good.keeps_days else 0
            found.append(Delivery(good, came, Lot((at - came).days, good.pack, lasts)))
            here += good.pack
        here -= amount
    return found


def _demands(good: Good, stories: Sequence[Story], *, at: datetime) -> list[tuple[datetime, Decimal]]:
    if good.name == BOXES:
        return sorted((moment, Decimal(bars)) for story in stories for moment, bars in boxed(story, at=at))
    return [(story.poured_at, wants(story)[good.name]) for story in stories if good.name in wants(story)]


def boxed(story: Story, *, at: datetime) -> list[tuple[datetime, int]]:
    """Return when how many bars of a batch were sold, each in a box; what was kept before is not among them."""
    if story.cut_after is None:
        return []
    cut_at = story.poured_at + story.cut_after
    found, left = [], story.bars
    for day, bars, purpose, _reason in story.leaves:
        moment, going = cut_at + timedelta(days=day, hours=2), min(bars, left)
        left -= going
        if purpose == "sale" and moment <= at:
            found.append((moment, going))
    return found
