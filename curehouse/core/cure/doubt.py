"""Recognise a doubtful weight as it is entered, and guess what it was meant to be."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from .expected import Expected, expected_range
from .rule import SampleSeries
from .series import Weighing, in_order, without_doubtful

# Bars cut by hand differ, but not by this much.
LARGEST_FIRST_RATIO = 3.0


PLAIN_FIGURE = re.compile(r"[0-9]+(\.[0-9]*)?|\.[0-9]+")


class DoubtKind(StrEnum):
    """What a doubtful weight probably is."""

    SWAPPED_DIGITS = "swapped_digits"
    DECIMAL_SLIP = "decimal_slip"
    NEIGHBOUR = "neighbour"
    TARE = "tare"
    REPEATED = "repeated"
    TOO_HEAVY = "too_heavy"
    TOO_LIGHT = "too_light"


@dataclass(frozen=True, slots=True)
class OtherWeight:
    """Another bar of the round: the label to name it by, and its latest weight in grams."""

    label: str
    weight_g: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """A weight to ask about.

    Attributes
    ----------
    kind
        What it probably is.
    difference_g
        Weight minus the likeliest weight, in grams; negative if lighter.
    guess_g
        The weight that would fit, in grams, or None.
    neighbour
        Label of the bar it probably is, for `NEIGHBOUR`.
    expected
        The range it was held against.
    """

    kind: DoubtKind
    difference_g: float
    guess_g: float | None
    neighbour: str | None
    expected: Expected

    @property
    def lighter(self) -> bool:
        """Whether the weight is below the likeliest one."""
        return self.difference_g < 0

    @property
    def question(self) -> str:
        """The question to put, without figures: these are the page's, in g or oz."""
        if self.kind is DoubtKind.NEIGHBOUR:
            return f"Is it bar {self.neighbour}?"
        return {
            DoubtKind.SWAPPED_DIGITS: "Digits swapped?",
            DoubtKind.DECIMAL_SLIP: "Decimal point in the wrong place?",
            DoubtKind.TARE: "Tare forgotten?",
            DoubtKind.REPEATED: "The last weight once more?",
            DoubtKind.TOO_HEAVY: "Wrong bar, or something else on the scale?",
            DoubtKind.TOO_LIGHT: "Wrong bar, or has a piece come off?",
        }[self.kind]


def look_at(
    weight_g: float,
    bar: Sequence[Weighing],
    day: float,
    *,
    batch: Sequence[SampleSeries] = (),
    neighbours: Sequence[OtherWeight] = (),
    water_share: float | None = None,
    step_g: float = 0.1,
    tares_g: Sequence[float] = (),
    typed: str = "",
    grams_per_unit: float = 1.0,
) -> Doubt | None:
    """Say whether a weight should be asked about; None if it is plausible.

    A bar's first weighing is held against the first weights of the batch's
    other bars, and asked about only if the decimal point explains it.

    Parameters
    ----------
    weight_g, day
        The new weight, and its moment in days since the cut.
    bar, batch, water_share, step_g
        As in `expected_range`.
    neighbours
        Bars of other batches near it in the round.
    tares_g
        Weights of trays and papers that may have been on the scale, or its zero off.
    typed, grams_per_unit
        The figure as typed, with a point, and the grams in its unit: digits are
        swapped in it. Without it they are swapped in the grams.

    Raises
    ------
    ValueError
        If `typed` isn't a plain decimal figure.
    """
    if typed and not PLAIN_FIGURE.fullmatch(typed):
        raise ValueError("typed must be a plain figure with a point, such as 120.8")
    entry = _Entry(weight_g, typed or _as_typed(weight_g, step_g), grams_per_unit, step_g)
    own = in_order(w for w in without_doubtful(bar) if w.day <= day)
    expected = expected_range(own, day, batch=batch, water_share=water_share, step_g=step_g)
    if expected is None:
        return _first_doubt(entry, batch)
    if expected.allows(weight_g):
        return None
    if abs(weight_g - own[-1].weight_g) < step_g / 2:
        return _doubt(DoubtKind.REPEATED, weight_g, expected)
    slip = _slip_doubt(entry, tares_g, expected)
    return slip or _other_bar_doubt(weight_g, day, batch, neighbours, expected, step_g)


@dataclass(frozen=True, slots=True)
class _Entry:
    weight_g: float
    typed: str
    grams_per_unit: float
    step_g: float

    def with_point_moved(self) -> Iterator[float]:
        for factor in (10, 100, 1000):
            yield self.weight_g / factor
            yield self.weight_g * factor

    def with_digits_swapped(self) -> Iterator[float]:
        """Yield it with every two neighbouring digits exchanged, if the scale can show that."""
        places = [index for index, sign in enumerate(self.typed) if sign.isdigit()]
        for left, right in zip(places, places[1:], strict=False):
            signs = list(self.typed)
            if signs[left] != signs[right]:
                signs[left], signs[right] = signs[right], signs[left]
                swapped_g = float("".join(signs)) * self.grams_per_unit
                if self._on_step(swapped_g) or not self._on_step(self.weight_g):
                    yield swapped_g

    def _on_step(self, weight_g: float) -> bool:
        steps = weight_g / self.step_g
        return abs(steps - round(steps)) < 1e-3


def _as_typed(weight_g: float, step_g: float) -> str:
    decimals = next((d for d in range(4) if abs(step_g - round(step_g, d)) < 1e-9), 3)
    return f"{weight_g:.{decimals}f}"


def _fits(weight_g: float, expected: Expected) -> bool:
    """Whether a guess lies well enough in the range to be offered."""
    half_slack_g = expected.slack_g / 2
    return expected.low_g - half_slack_g <= weight_g <= expected.high_g + half_slack_g


def _with_tare_off(weight_g: float, tares_g: Sequence[float]) -> Iterator[float]:
    for tare_g in tares_g:
        yield weight_g - tare_g
        yield weight_g + tare_g


def _doubt(
    kind: DoubtKind,
    weight_g: float,
    expected: Expected,
    *,
    guess_g: float | None = None,
    neighbour: str | None = None,
) -> Doubt:
    return Doubt(kind, weight_g - expected.middle_g, guess_g, neighbour, expected)


def _slip_doubt(entry: _Entry, tares_g: Sequence[float], expected: Expected) -> Doubt | None:
    """Look for a slip of hand whose undoing gives a weight that fits."""
    for kind, guesses in (
        (DoubtKind.DECIMAL_SLIP, entry.with_point_moved()),
        (DoubtKind.SWAPPED_DIGITS, entry.with_digits_swapped()),
        (DoubtKind.TARE, _with_tare_off(entry.weight_g, tares_g)),
    ):
        fitting = [guess for guess in guesses if _fits(guess, expected)]
        if fitting:
            best = min(fitting, key=lambda guess: abs(guess - expected.middle_g))
            return _doubt(kind, entry.weight_g, expected, guess_g=best)
    return None


def _other_bar_doubt(
    weight_g: float,
    day: float,
    batch: Sequence[SampleSeries],
    neighbours: Sequence[OtherWeight],
    expected: Expected,
    step_g: float,
) -> Doubt:
    """Name the bar whose weight this would be, nearest first; else only heavier or lighter."""
    near = []
    for other in batch:
        theirs = expected_range(other.weighings, day, step_g=step_g)
        if theirs is not None and theirs.shows(weight_g):
            near.append((abs(weight_g - theirs.middle_g), other.label))
    for neighbour in neighbours:
        # Another batch dries by its own clock; a bar of it lost little since its last weight.
        if 0.97 * neighbour.weight_g <= weight_g <= 1.003 * neighbour.weight_g:
            near.append((abs(weight_g - neighbour.weight_g), neighbour.label))
    if not near:
        kind = DoubtKind.TOO_HEAVY if weight_g > expected.middle_g else DoubtKind.TOO_LIGHT
        return _doubt(kind, weight_g, expected)
    label = min(near)[1]
    return _doubt(DoubtKind.NEIGHBOUR, weight_g, expected, neighbour=label)


def _first_doubt(entry: _Entry, batch: Sequence[SampleSeries]) -> Doubt | None:
    firsts = [in_order(good)[0].weight_g for b in batch if (good := without_doubtful(b.weighings))]
    if not firsts:
        return None
    usual_g = median(firsts)
    if usual_g / LARGEST_FIRST_RATIO < entry.weight_g < usual_g * LARGEST_FIRST_RATIO:
        return None
    expected = Expected(min(firsts), max(firsts), usual_g, usual_g)
    guesses = [guess for guess in entry.with_point_moved() if usual_g / 2 <= guess <= usual_g * 2]
    if not guesses:
        return None
    best = min(guesses, key=lambda guess: abs(guess - usual_g))
    return _doubt(DoubtKind.DECIMAL_SLIP, entry.weight_g, expected, guess_g=best)
