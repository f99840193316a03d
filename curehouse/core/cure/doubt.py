"""Recognise a doubtful weight as it is entered, and guess what it was meant to be."""

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from .expected import Expected, expected_range
from .first import first_range
from .foretold_weights import Foretold
from .rule import SampleSeries
from .series import Weighing, in_order, without_doubtful
from .tare import CommonOffset, Tare, common_offset

# A first weight that is thinkable as it is was mistyped only if another one lies this near the middle.
MIDDLING = 0.08
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
    tare
        For `TARE`, what stood on the scale, or stood on it when it was set to
        zero; None if only an offset is seen.
    alike
        Labels of the bars of the round that are off by as much, for `TARE`.
    """

    kind: DoubtKind
    difference_g: float
    guess_g: float | None
    neighbour: str | None
    expected: Expected
    tare: Tare | None = None
    alike: tuple[str, ...] = ()

    @property
    def lighter(self) -> bool:
        """Whether the weight is below the likeliest one."""
        return self.difference_g < 0

    @property
    def question(self) -> str:
        """The question to put, without figures: these are the page's, in g or oz."""
        if self.kind is DoubtKind.NEIGHBOUR:
            return f"Is it bar {self.neighbour}?"
        if self.kind is DoubtKind.TARE:
            return tare_question(self.tare.label if self.tare else "", lighter=self.lighter, alike=self.alike)
        return {
            DoubtKind.SWAPPED_DIGITS: "Digits swapped?",
            DoubtKind.DECIMAL_SLIP: "Decimal point in the wrong place?",
            DoubtKind.REPEATED: "The last weight once more?",
            DoubtKind.TOO_HEAVY: "Wrong bar, or something else on the scale?",
            DoubtKind.TOO_LIGHT: "Wrong bar, or has a piece come off?",
        }[self.kind]


def tare_question(named: str, *, lighter: bool, alike: Sequence[str] = ()) -> str:
    """Ask about a tare; a bar weighs too little if the scale was set to zero with it on.

    Parameters
    ----------
    named
        What it may have been, such as "tray", with its weight where that is known; empty if nothing is.
    lighter
        Whether the weight is below the likeliest one.
    alike
        Labels of the other bars that are off by as much.
    """
    if not named:
        question = "Tare forgotten?"
    elif lighter:
        question = f"Was the scale set to zero with the {named} on it?"
    else:
        question = f"Was the {named} on the scale?"
    if not alike:
        return question
    bars = f"Bar {alike[0]} is" if len(alike) == 1 else f"Bars {', '.join(alike[:-1])} and {alike[-1]} are"
    return f"{question} {bars} off by as much."


def look_at(
    weight_g: float,
    bar: Sequence[Weighing],
    day: float,
    *,
    batch: Sequence[SampleSeries] = (),
    neighbours: Sequence[OtherWeight] = (),
    water_share: float | None = None,
    bar_mass_g: float | None = None,
    step_g: float = 0.1,
    tares: Sequence[Tare] = (),
    scale: int | None = None,
    typed: str = "",
    grams_per_unit: float = 1.0,
    foretold: Foretold | None = None,
) -> Doubt | None:
    """Say whether a weight should be asked about; None if it is plausible.

    A weight in the shown range never is, but for a bar's first one. Outside the
    range and its slack it always is; between the two, if another bar weighs
    that or several bars of the round are off alike.

    Parameters
    ----------
    weight_g, day
        The new weight, and its moment in days since the cut.
    bar, batch, water_share, step_g, foretold
        As in `expected_range`.
    neighbours
        Bars of other batches near it in the round.
    bar_mass_g
        The batch's mass over its bars, for a first weight with no other bar's.
    tares, scale
        What may have stood on the scale, and which scale, as in `Weighing`.
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
    if not own:
        return _first_doubt(entry, day, batch, bar_mass_g, tares)
    return _later_doubt(entry, own, day, _Beside(batch, neighbours, water_share, tares, scale, foretold))


@dataclass(frozen=True, slots=True)
class _Beside:
    """What a weight is held against beside the bar's own weighings."""

    batch: Sequence[SampleSeries]
    neighbours: Sequence[OtherWeight]
    water_share: float | None
    tares: Sequence[Tare]
    scale: int | None
    foretold: Foretold | None


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

    def with_a_digit_lost(self) -> Iterator[float]:
        """Yield what 12 may stand for if it was 12x, in steps of the scale: the last digit isn't known."""
        for factor in (10, 100):
            for unit in range(1, factor):
                yield self.weight_g * factor + unit * self.step_g

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


def _with_tare_off(weight_g: float, tares: Sequence[Tare]) -> Iterator[tuple[float, Tare]]:
    for tare in tares:
        yield weight_g - tare.weight_g, tare
        yield weight_g + tare.weight_g, tare


def _doubt(
    kind: DoubtKind,
    weight_g: float,
    expected: Expected,
    *,
    guess_g: float | None = None,
    neighbour: str | None = None,
    tare: Tare | None = None,
) -> Doubt:
    return Doubt(kind, weight_g - expected.middle_g, guess_g, neighbour, expected, tare)


def _plain_doubt(weight_g: float, expected: Expected) -> Doubt:
    kind = DoubtKind.TOO_HEAVY if weight_g > expected.middle_g else DoubtKind.TOO_LIGHT
    return _doubt(kind, weight_g, expected)


def _later_doubt(entry: _Entry, own: Sequence[Weighing], day: float, beside: _Beside) -> Doubt | None:
    weight_g, batch, step_g = entry.weight_g, beside.batch, entry.step_g
    expected = expected_range(own, day, batch=batch, water_share=beside.water_share, step_g=step_g, foretold=beside.foretold)
    if expected is None or expected.shows(weight_g):
        return None
    common = common_offset(
        weight_g,
        own,
        day,
        batch=batch,
        water_share=beside.water_share,
        step_g=step_g,
        scale=beside.scale,
        expected=expected,
        foretold=beside.foretold,
    )
    if expected.allows(weight_g):
        if common is not None:
            return _tare_doubt(entry, common, beside.tares, expected)
        label = _bar_it_may_be(weight_g, day, batch, (), expected, step_g)
        return None if label is None else _doubt(DoubtKind.NEIGHBOUR, weight_g, expected, neighbour=label)
    label = _bar_it_may_be(weight_g, day, batch, beside.neighbours, expected, step_g)
    return _doubt_outside(entry, expected, common, own[-1].weight_g, label, beside.tares)


def probable_cause(
    weight_g: float,
    expected: Expected,
    *,
    last_g: float | None,
    others: Sequence[tuple[str, Expected]] = (),
    common: CommonOffset | None = None,
    tares: Sequence[Tare] = (),
    step_g: float = 0.1,
) -> Doubt:
    """Say what a weight that does not fit probably is.

    Parameters
    ----------
    expected
        The range it is held against, wherever that comes from.
    last_g
        The bar's weight before it in grams, if any.
    others
        Labels of the batch's other bars with what was to be expected of them then.
    common
        By how much the bars of the session are off alike, if they are.
    tares, step_g
        As in `look_at`.
    """
    entry = _Entry(weight_g, _as_typed(weight_g, step_g), 1.0, step_g)
    apart_g = abs(weight_g - expected.middle_g)
    near = [(abs(weight_g - theirs.middle_g), label) for label, theirs in others if theirs.shows(weight_g)]
    label = min(near)[1] if near and min(near)[0] < apart_g else None
    return _doubt_outside(entry, expected, common, last_g, label, tares)


def _doubt_outside(
    entry: _Entry,
    expected: Expected,
    common: CommonOffset | None,
    last_g: float | None,
    label: str | None,
    tares: Sequence[Tare],
) -> Doubt:
    """Say what a weight outside its range and slack probably is, likeliest first."""
    weight_g = entry.weight_g
    slip = _slip_doubt(entry, tares, expected)
    # Two bars too light alike are more often two slips of a hand than a scale set to zero with something on it.
    if common is not None and (slip is None or common.offset_g > 0):
        return _tare_doubt(entry, common, tares, expected)
    if last_g is not None and abs(weight_g - last_g) < entry.step_g / 2:
        return _doubt(DoubtKind.REPEATED, weight_g, expected)
    if slip is not None:
        return slip
    if label is not None:
        return _doubt(DoubtKind.NEIGHBOUR, weight_g, expected, neighbour=label)
    return _plain_doubt(weight_g, expected)


def _tare_doubt(entry: _Entry, common: CommonOffset, tares: Sequence[Tare], expected: Expected) -> Doubt:
    """Ask about what bars are off by alike, by the name of a tare that weighs as much."""
    offset_g = common.offset_g
    tare = next((one for one in tares if abs(abs(offset_g) - one.weight_g) <= expected.slack_g), None)
    off_g = offset_g if tare is None else math.copysign(tare.weight_g, offset_g)
    guess_g = _into(entry.weight_g - off_g, expected)
    # What the scale can show: the nearest, or at an edge of the range the last one within.
    steps = guess_g / entry.step_g
    shown = next(
        (one for one in (round(steps), math.floor(steps), math.ceil(steps)) if expected.shows(one * entry.step_g)), None
    )
    guess_g = entry.step_g * (round(steps) if shown is None else shown)
    return replace(_doubt(DoubtKind.TARE, entry.weight_g, expected, guess_g=guess_g, tare=tare), alike=common.labels)


def _into(guess_g: float, expected: Expected) -> float:
    """Bring a guess that is known to a gram or so into the range."""
    return min(max(guess_g, expected.low_g), expected.high_g)


def _slip_doubt(entry: _Entry, tares: Sequence[Tare], expected: Expected) -> Doubt | None:
    """Look for a slip of hand whose undoing gives a weight in the range."""
    slips: tuple[tuple[DoubtKind, list[tuple[float, Tare | None]]], ...] = (
        (DoubtKind.DECIMAL_SLIP, [(guess, None) for guess in entry.with_point_moved()]),
        (DoubtKind.TARE, list(_with_tare_off(entry.weight_g, tares))),
        (DoubtKind.SWAPPED_DIGITS, [(guess, None) for guess in entry.with_digits_swapped()]),
    )
    for kind, guesses in slips:
        fitting = [(guess, tare) for guess, tare in guesses if expected.shows(guess)]
        if fitting:
            best, tare = min(fitting, key=lambda one: abs(one[0] - expected.middle_g))
            return _doubt(kind, entry.weight_g, expected, guess_g=best, tare=tare)
    if any(expected.shows(weight_g) for weight_g in entry.with_a_digit_lost()):
        return _doubt(DoubtKind.DECIMAL_SLIP, entry.weight_g, expected)
    return None


def _bar_it_may_be(
    weight_g: float,
    day: float,
    batch: Sequence[SampleSeries],
    neighbours: Sequence[OtherWeight],
    expected: Expected,
    step_g: float,
) -> str | None:
    """Name the bar whose weight this would be, nearest first."""
    near = []
    for other in batch:
        theirs = expected_range(other.weighings, day, step_g=step_g, foretold=other.foretold)
        apart_g = abs(weight_g - expected.middle_g)
        if theirs is not None and theirs.shows(weight_g) and abs(weight_g - theirs.middle_g) < apart_g:
            near.append((abs(weight_g - theirs.middle_g), other.label))
    for neighbour in neighbours:
        # Another batch dries by its own clock; a bar of it lost little since its last weight.
        if 0.97 * neighbour.weight_g <= weight_g <= 1.003 * neighbour.weight_g:
            near.append((abs(weight_g - neighbour.weight_g), neighbour.label))
    return min(near)[1] if near else None


def _first_doubt(
    entry: _Entry, day: float, batch: Sequence[SampleSeries], bar_mass_g: float | None, tares: Sequence[Tare]
) -> Doubt | None:
    """Hold a first weight against the other bars, which were cut to the same size."""
    expected = first_range(day, batch, bar_mass_g)
    if expected is None or expected.shows(entry.weight_g):
        return None
    slip = _slip_doubt(entry, tares, expected)
    if expected.allows(entry.weight_g):
        # A bar cut unevenly: only what would make it one of the middle ones is a slip.
        guess_g = None if slip is None else slip.guess_g
        return slip if guess_g is not None and abs(guess_g - expected.middle_g) <= MIDDLING * expected.middle_g else None
    if slip is not None:
        return slip
    return _plain_doubt(entry.weight_g, expected)
