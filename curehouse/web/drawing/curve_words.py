"""The figures of a curve in words: for its description, its labels and its read-out."""

from curehouse.web.drawing.curve_model import (
    GRAMS_PER_OUNCE,
    CurveDrawing,
    ForecastPoint,
    Stop,
    Unit,
    mean_lines,
)

_NAMED_DOUBTS = 5


def shown(weight_g: float, unit: Unit) -> float:
    """Return *weight_g* in the unit it is shown in."""
    return weight_g if unit == "g" else weight_g / GRAMS_PER_OUNCE


def figure(weight_g: float, unit: Unit) -> str:
    """Return a weight as a figure without its unit: 0.1 g, 0.01 oz where it is a whole number of these or else 0.001 oz.

    Finer below one of them.
    """
    value = shown(weight_g, unit)
    # To the milligram, as weights are kept.
    is_in_hundredths = abs(round(value, 2) - value) * GRAMS_PER_OUNCE < 0.001
    places = 1 if unit == "g" else 2 if is_in_hundredths else 3
    return f"{value:.{places if abs(value) >= 1 else places + 2}f}"


def weight(weight_g: float, unit: Unit) -> str:
    """Return a weight with its unit, kept together by a no-break space."""
    return f"{figure(weight_g, unit)}\u00a0{unit}"


def day(value: float) -> str:
    """Return a day since the cut as a person says it."""
    return f"day\u00a0{round(value)}"


def doubt_label(weight_g: float, doubt: str, unit: Unit) -> str:
    """Return what stands beside a crossed weighing."""
    return f"{figure(weight_g, unit)}: {doubt}"


# What the band is called, and what it says.
BAND = "80\u00a0% band"
BAND_TITLE = f"{BAND}: 8 of 10 weights are expected within it"


def read_ahead(point: ForecastPoint, unit: Unit) -> str:
    """Return what is expected on a day to come, for the cursor."""
    low, high = figure(point.low_g, unit), weight(point.high_g, unit)
    return f"{day(point.day)}, expected: {weight(point.mid_g, unit)}, 8 of 10 between {low} and {high}"


def read_out(stop: Stop, unit: Unit) -> str:
    """Return the figures of one round, for the cursor."""
    said = " · ".join(
        f"{letter}\u00a0{figure(w.weight_g, unit)}" + (f" (in doubt: {w.doubt})" if w.doubt else "")
        for letter, w in stop.weighings
    )
    return f"{day(stop.day)}: {said}\u00a0{unit}"


def describe(curve: CurveDrawing) -> str:
    """Return the curve's figures as sentences, the text that stands in for the drawing."""
    parts = [_known(curve), _doubts(curve), _expected(curve)]
    if curve.day_marks:
        marks = ", ".join(f"{mark.label} on {day(mark.day)}" for mark in curve.day_marks)
        parts.append(f"Marked: {marks}.")
    return " ".join(part for part in parts if part)


def _known(curve: CurveDrawing) -> str:
    count = sum(len(bar.known) for bar in curve.bars)
    lines = mean_lines(curve.bars)
    if not lines:
        return f"{curve.batch}: no weighing that counts yet."
    bars = sum(1 for bar in curve.bars if bar.known)
    first_day, first_g = lines[0][0]
    last_day, last_g = lines[-1][-1]
    head = (
        f"{curve.batch}: {_counted(count, 'weighing')} of {_counted(bars, 'bar')}. "
        f"Mean {weight(first_g, curve.unit)} on {day(first_day)}"
    )
    if count == 1 or last_day == first_day:
        return f"{head}."
    change = 100 * (last_g - first_g) / first_g
    way = "less" if change <= 0 else "more"
    return f"{head}, {weight(last_g, curve.unit)} on {day(last_day)}, {abs(change):.1f}\u00a0% {way}."


def _doubts(curve: CurveDrawing) -> str:
    doubtful = [
        f"bar {bar.letter} {weight(w.weight_g, curve.unit)} on {day(w.day)} ({w.doubt})"
        for bar in curve.bars
        for w in bar.weighings
        if w.doubt
    ]
    if not doubtful:
        return ""
    named = "; ".join(doubtful[:_NAMED_DOUBTS])
    rest = len(doubtful) - _NAMED_DOUBTS
    return f"In doubt, and left out of the line and the verdict: {named}{f'; and {rest} more' if rest > 0 else ''}."


def _expected(curve: CurveDrawing) -> str:
    parts = []
    if curve.forecast:
        last = curve.forecast[-1]
        parts.append(
            f"Expected on {day(last.day)}: {weight(last.mid_g, curve.unit)}, between "
            f"{weight(last.low_g, curve.unit)} and {weight(last.high_g, curve.unit)}; 8 of 10 weights lie within the {BAND}."
        )
    if curve.ready_window:
        window = curve.ready_window
        parts.append(f"{window.label[:1].upper()}{window.label[1:]}: {day(window.first_day)} to {day(window.last_day)}.")
    return " ".join(parts)


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
