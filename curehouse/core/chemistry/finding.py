"""One finding about a formula, and what a person says who read it."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

# A share that is a bound to the maker is not always one to a float.
_NOISE = 1e-9


class Level(StrEnum):
    """How grave a finding is: ``refusal`` - not to be poured; ``warning`` - to be read first; ``note`` - good to know."""

    REFUSAL = "refusal"
    WARNING = "warning"
    NOTE = "note"


Figure = float | str


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding by its code.

    ``figures`` by name: masses end in ``_g`` (grams), shares in ``_share`` (0-1), temperatures in
    ``_c`` (°C), ratios in ``_times``; names and lists of them are text. ``needs_confirming``: a
    person must say that it was read; ``needs_check``: the alkalinity check must be passed before
    the bars are released.
    """

    level: Level
    code: str
    figures: Mapping[str, Figure] = field(default_factory=dict)
    needs_confirming: bool = False
    needs_check: bool = False

    @property
    def read_as(self) -> str:
        """What a person says of it who read it: the code, what it is about, and the figure that stood there."""
        about, figure = _READ.get(self.code, ("", ""))
        said = self.figures.get(figure, "")
        shown = said if isinstance(said, str) else f"{math.floor(said * 10_000 + _NOISE) / 10_000:.4f}"
        return ":".join(str(one) for one in (self.code, self.figures.get(about, ""), shown) if one != "")

    @property
    def is_of_a_value(self) -> bool:
        """It doubts a value that lye is weighed by: until a person read it, no amount of lye is shown."""
        return self.code in _VALUES

    def is_among(self, said: Collection[str]) -> bool:
        """Return whether *said* confirms the very figure that stands here: nobody reads a figure before it is shown."""
        return self.read_as in said

    def was_read(self, said: Collection[str]) -> str | None:
        """Return what of *said* confirms it, each as `read_as`, or None: a figure that is worse by now is asked about again."""
        about, _, figure = self.read_as.rpartition(":")
        for one in said:
            if one == self.read_as:
                return one
            if about == _about(one) and self._is_no_worse(figure, _figure(one)):
                return one
        return None

    def _is_no_worse(self, figure: str, read: float) -> bool:
        if self.code in _MAY_RISE:
            return read <= float(figure)
        return self.code in _MAY_FALL and float(figure) - _MOVED_BY_SIZE <= read <= 1


# What is confirmed is a figure and not a kind of doubt: what it is about, and which of the figures it is.
_READ = {
    "may_be_caustic": ("", "low_share"),
    "batch_too_small": ("", "low_share"),
    "purity_low": ("alkali", "purity_share"),
    "certificate_outside_range": ("name", "value"),
    "own_range_outside_list": ("name", "own"),
    "liquid_unknown": ("name", "liquid_share"),
    "acid_much": ("", "acid_share"),
    "acid_strength_odd": ("name", "strength_share"),
    "name_says_other": ("name", "counted"),
    "alkali_beside": ("name", "alkali_share"),
}
# Values that lye is weighed by.
_VALUES = frozenset(
    {
        "certificate_outside_range",
        "certificate_far_outside",
        "own_range_outside_list",
        "own_range_far_outside",
        "purity_low",
        "acid_strength_odd",
    }
)
# Of these a higher figure than the one that was read needs no more reading; of the others any other figure does.
_MAY_RISE = frozenset({"may_be_caustic", "batch_too_small", "purity_low"})
# And of these a lower one; a tenth of a point is what another size of the batch moves it by.
_MAY_FALL = frozenset({"acid_much", "alkali_beside"})
_MOVED_BY_SIZE = 0.001


def _about(read: str) -> str:
    return read.rpartition(":")[0]


def _figure(read: str) -> float:
    """Return the figure that was read; one that is none, or that no share can be (below -1), covers nothing."""
    try:
        figure = float(read.rpartition(":")[2])
    except ValueError:
        return math.inf
    return figure if figure >= -1 else math.inf


def lowest_read(said: Collection[str]) -> float:
    """Return the lowest superfat (0-1) that a person said they read as a low end, 0 where none below it was read."""
    lows = [_figure(one) for one in said if _about(one) in ("may_be_caustic", "batch_too_small")]
    return min([low for low in lows if math.isfinite(low)], default=0.0)
