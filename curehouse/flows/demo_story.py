"""The demo's cast: formulas, racks, and what happened to each batch. All of it invented."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

_FRONT, _TRACE = "front", "trace"
ALL_BARS = 10_000


@dataclass(frozen=True, slots=True)
class FormulaStory:
    """Shares are of the fats; the drying curve is a Page curve: share of water that leaves, days, shape."""

    fats_per_bar_g: int
    lye_share: Decimal
    liquids: tuple[tuple[str, Decimal, str], ...]
    water_leaves: float
    tau_days: float
    shape: float
    water_share: float


FORMULAS = {
    "Goat & oat": FormulaStory(
        85, Decimal("0.138"), (("water", Decimal("0.17"), _FRONT), ("goat_milk", Decimal("0.16"), _TRACE)), 0.66, 17, 0.75, 0.21
    ),
    "Buttermilk & marigold": FormulaStory(
        90,
        Decimal("0.137"),
        (("water", Decimal("0.16"), _FRONT), ("buttermilk", Decimal("0.15"), _TRACE)),
        0.68,
        16,
        0.74,
        0.206,
    ),
    "Harbour charcoal": FormulaStory(92, Decimal("0.141"), (("water", Decimal("0.31"), _FRONT),), 0.69, 15, 0.73, 0.213),
    "Juniper & salt": FormulaStory(88, Decimal("0.152"), (("water", Decimal("0.28"), _FRONT),), 0.7, 12, 0.72, 0.195),
    "Sheep's milk plain": FormulaStory(86, Decimal("0.139"), (("sheep_milk", Decimal("0.34"), _FRONT),), 0.64, 19, 0.76, 0.186),
    "Old olive": FormulaStory(95, Decimal("0.132"), (("water", Decimal("0.33"), _FRONT),), 0.72, 26, 0.78, 0.226),
}

# name, levels, places on a level, bars at a place
RACKS = (("Window rack", 4, 2, 30), ("North wall", 4, 2, 30), ("Cellar stairs", 3, 1, 48))


@dataclass(frozen=True, slots=True)
class Story:
    """One batch's life; days count from the cut."""

    formula: str
    poured_at: datetime
    bars: int
    seed: int
    cut_after: timedelta | None = timedelta(hours=26)
    sample_bars: int = 3
    scale: int = 0
    weighing_days: tuple[int, ...] = ()
    missed: frozenset[tuple[int, str]] = frozenset()
    slips: dict[tuple[int, str], Callable[[float], float]] = field(default_factory=dict)
    unanswered: frozenset[tuple[int, str]] = frozenset()
    firmness: dict[int, str] = field(default_factory=dict)
    checks: tuple[tuple[int, str, bool], ...] = ()
    leaves: tuple[tuple[int, int, str, str], ...] = ()
    slow: float = 1.0
    placed: bool = True
    note: str = ""

    def weight_g(self, bar: int, day: float) -> float:
        """Return the true weight of a sample bar so many days after the cut."""
        formula = FORMULAS[self.formula]
        start_g = formula.fats_per_bar_g * 1.44 * (1 + 0.018 * math.sin(self.seed * 1.7 + bar * 2.3))
        dried = formula.water_leaves * (1 + 0.02 * math.sin(self.seed + bar))
        tau_days = formula.tau_days * self.slow * (1 + 0.06 * math.cos(self.seed * 0.9))
        gone = formula.water_share * dried * (1 - math.exp(-((day / tau_days) ** formula.shape)))
        damp = 0.0008 * math.sin((day + self.seed * 3) / 6.0)
        return start_g * (1 - gone + (damp if day else 0.0))


def swapped(weight_g: float) -> float:
    """Swap the first two different neighbouring digits before the point, as a hurried hand does."""
    digits = list(f"{weight_g:.1f}")
    for index in range(len(digits) - 3):
        if digits[index] != digits[index + 1] and digits[index + 1] != "0":
            digits[index], digits[index + 1] = digits[index + 1], digits[index]
            return float("".join(digits))
    return weight_g


def with_dish(weight_g: float) -> float:
    """Weigh the bar with the paper dish it lies on."""
    return weight_g + 6.4


def point_slipped(weight_g: float) -> float:
    """Lose the decimal point."""
    return weight_g * 10


_WEEKS = tuple(range(0, 78, 7))
_SOLD = "sale"


def _finished(at: datetime) -> list[Story]:
    """Return the batches of the months before, all sold: about two a week."""
    names = list(FORMULAS)
    stories = []
    for number in range(34):
        formula = names[(number * 5 + number // 6) % len(names)]
        days_ago = 183 - number * 3.4
        last = 49 if formula == "Old olive" else 42
        slips = {}
        if number % 7 == 2:
            slips[(14, "B")] = swapped
        if number % 11 == 5:
            slips[(21, "A")] = with_dish
        if number % 13 == 6:
            slips[(7, "C")] = point_slipped
        stories.append(
            Story(
                formula=formula,
                poured_at=at - timedelta(days=days_ago, hours=number % 5),
                bars=(24, 30, 28, 36, 20)[number % 5],
                seed=number,
                sample_bars=4 if number % 4 == 0 else 3,
                weighing_days=tuple(day for day in _WEEKS if day <= last and (day != 14 or number % 6)),
                missed=frozenset({(28, "C")}) if number % 5 == 3 else frozenset(),
                slips=slips,
                checks=((last - 7, "9.6", True),) if number % 9 else ((last - 14, "10.6", False), (last - 6, "9.8", True)),
                leaves=((last + 1, 2, "kept", "reference bars"), (last + 2, ALL_BARS, _SOLD, "short before a market")),
            )
        )
    return stories


def _cut(at: datetime, days_ago: float) -> datetime:
    """Return when a batch was poured that was cut so many days before *at*."""
    return at - timedelta(days=days_ago, hours=26, minutes=40)


def _standing_long(at: datetime) -> list[Story]:
    """Return the batches that stand in the house for five weeks and more, one of every kind of state."""
    return [
        Story(
            "Old olive",
            _cut(at, 70),
            36,
            101,
            weighing_days=_WEEKS,
            slow=2.3,
            firmness={56: "dents", 63: "dents", 70: "dents"},
            checks=((42, "9.5", True),),
            note="Poured with a little more water than planned; the cellar was damp.",
        ),
        Story(
            "Goat & oat",
            _cut(at, 49),
            28,
            102,
            weighing_days=_WEEKS,
            checks=((44, "9.4", True),),
            leaves=((45, 2, "kept", "reference bars"),),
            slow=0.9,
        ),
        Story("Juniper & salt", _cut(at, 42), 24, 103, weighing_days=_WEEKS, slow=0.9),
        Story(
            "Harbour charcoal",
            _cut(at, 42),
            30,
            104,
            sample_bars=4,
            weighing_days=_WEEKS,
            slips={(42, "B"): with_dish, (42, "C"): with_dish, (42, "A"): with_dish},
            unanswered=frozenset({(42, "A"), (42, "B"), (42, "C")}),
            checks=((38, "9.7", True),),
            slow=1.12,
        ),
    ]


def _standing_lately(at: datetime) -> list[Story]:
    """Return the batches of the last weeks."""
    return [
        Story("Buttermilk & marigold", _cut(at, 38), 24, 105, weighing_days=(0, 7, 14, 21), slow=1.1),
        Story("Sheep's milk plain", _cut(at, 35), 26, 106, weighing_days=(0, 7, 14, 21, 28), slow=1.1),
        Story("Goat & oat", _cut(at, 28), 28, 107, weighing_days=(0, 7, 14, 21), slips={(14, "B"): swapped}),
        Story("Buttermilk & marigold", _cut(at, 21), 30, 108, weighing_days=(0, 7, 14), scale=1),
        Story(
            "Juniper & salt",
            _cut(at, 21),
            20,
            109,
            weighing_days=(0, 7, 14),
            checks=((14, "10.8", False),),
            note="Lye weighed twice; the strip is to be repeated.",
        ),
        Story("Harbour charcoal", _cut(at, 14), 30, 110, weighing_days=(0, 7)),
        Story("Goat & oat", _cut(at, 10), 48, 111, weighing_days=(0, 7), sample_bars=4),
        Story("Sheep's milk plain", _cut(at, 7), 24, 112, weighing_days=(0,)),
        Story("Old olive", _cut(at, 3), 18, 113, weighing_days=(0,), placed=False),
        Story("Buttermilk & marigold", at - timedelta(hours=20), 30, 114, cut_after=None),
    ]


def batches_of(at: datetime) -> list[Story]:
    """Return every batch of the demo in the order of pouring."""
    return sorted([*_finished(at), *_standing_long(at), *_standing_lately(at)], key=lambda story: story.poured_at)
