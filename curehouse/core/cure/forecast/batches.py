"""What goes into a forecast."""

import math
from dataclasses import asdict, dataclass
from typing import Any

_WEEK = 7


@dataclass(frozen=True, slots=True)
class BarReadings:
    """One sample bar: its label, and its weighings by day.

    Attributes
    ----------
    label
        Names it within its batch.
    days
        Days since the cut, ascending.
    weights_g
        Weights in grams, one a day.

    Raises
    ------
    ValueError
        If the two differ in length, a day is negative or out of order, or a weight is not above 0.
    """

    label: str
    days: tuple[float, ...]
    weights_g: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.days) != len(self.weights_g):
            raise ValueError("a bar needs one weight for each day")
        if any(not (math.isfinite(day) and day >= 0) for day in self.days):
            raise ValueError("a bar's days count from the cut: none may be negative")
        if any(later < earlier for earlier, later in zip(self.days, self.days[1:], strict=False)):
            raise ValueError("a bar's days must ascend")
        if any(not (math.isfinite(weight) and weight > 0) for weight in self.weights_g):
            raise ValueError("a weight must be above 0")

    def first(self, count: int) -> "BarReadings":
        """Return the bar with its first weighings: they were looked through when it was made."""
        if count >= len(self.days):
            return self
        part = object.__new__(BarReadings)
        for name, value in (("label", self.label), ("days", self.days[:count]), ("weights_g", self.weights_g[:count])):
            object.__setattr__(part, name, value)
        return part


@dataclass(frozen=True, slots=True)
class WeighedBatch:
    """A batch with the weighings of its sample bars, finished or not.

    Attributes
    ----------
    key
        Names the batch.
    formula
        Names its formula; batches of one formula are taken to dry alike.
    water_share
        Free water of the fresh bar over its mass (0-1), as recorded.
    bars
        Its sample bars, in any order.
    cut_day
        Day of the cut as a proleptic Gregorian ordinal, if known: bars dry by season.
    room
        Names the room it cures in: batches in one room share its damp and its log.

    Raises
    ------
    ValueError
        If the water share is not between 0 and 1, a label stands twice, or nothing was weighed.
    """

    key: str
    formula: str
    water_share: float
    bars: tuple[BarReadings, ...]
    cut_day: int | None = None
    room: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.water_share < 1:
            raise ValueError("water_share must lie between 0 and 1")
        if len({bar.label for bar in self.bars}) != len(self.bars):
            raise ValueError("every bar of a batch needs a label of its own")
        if not any(bar.days for bar in self.bars):
            raise ValueError("a batch without a weighing cannot be forecast")

    @property
    def last_day(self) -> float:
        """Day of its newest weighing."""
        return max(bar.days[-1] for bar in self.bars if bar.days)

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers, names and lists, as JSON keeps them."""
        bars = [{"label": bar.label, "days": list(bar.days), "weights_g": list(bar.weights_g)} for bar in self.bars]
        return {
            "key": self.key,
            "formula": self.formula,
            "water_share": self.water_share,
            "bars": bars,
            "cut_day": self.cut_day,
            "room": self.room,
        }

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "WeighedBatch":
        """Return the batch of which `as_plain` made this."""
        bars = tuple(BarReadings(bar["label"], tuple(bar["days"]), tuple(bar["weights_g"])) for bar in plain["bars"])
        return cls(**{**plain, "bars": bars})


@dataclass(frozen=True, slots=True)
class ForecastRule:
    """When a batch counts as ready, and when as too soft.

    Attributes
    ----------
    min_days
        Least age in whole days since the cut.
    weekly_loss_limit_pct
        Ready at this loss of the last seven days or less, in % of the weight (median sample bar).
    water_left_limit_pct
        If set: ready at this share or less of the water that went in, in % (median sample bar).
    latest_day
        Too soft if ready only after this day.
    soft_water_of_bar_pct
        If set: too soft if on `latest_day` the recorded water still in the bar is more than this, in % of its weight.
    horizon_days
        Looked ahead so far; what is not ready by then has this as its day.

    Raises
    ------
    ValueError
        If a limit is out of its range.
    """

    min_days: int = 28
    weekly_loss_limit_pct: float = 0.75
    water_left_limit_pct: float | None = None
    latest_day: int = 56
    soft_water_of_bar_pct: float | None = None
    horizon_days: int = 126

    def __post_init__(self) -> None:
        if not 0 <= self.min_days <= self.latest_day <= self.horizon_days:
            raise ValueError("min_days, latest_day and horizon_days must be 0 or more and ascend")
        if self.horizon_days < _WEEK:
            raise ValueError("horizon_days must be 7 or more: what is asked is a week's loss")
        if not 0 < self.weekly_loss_limit_pct < 100:
            raise ValueError("weekly_loss_limit_pct must lie between 0 and 100")
        for name in ("water_left_limit_pct", "soft_water_of_bar_pct"):
            limit = getattr(self, name)
            if limit is not None and not 0 < limit <= 100:
                raise ValueError(f"{name} must be above 0 and at most 100")

    def as_plain(self) -> dict[str, Any]:
        """Return it as numbers and names, as JSON keeps them."""
        return asdict(self)

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "ForecastRule":
        """Return the rule of which `as_plain` made this."""
        return cls(**plain)


@dataclass(frozen=True, slots=True)
class RoomDay:
    """Mean relative humidity of a room on a day (proleptic Gregorian ordinal), in %, and its temperature in °C where known."""

    day: int
    humidity_pct: float
    temperature_c: float | None = None
