"""Where the words on a curve stand: above the plot, at the lines' ends, beside what is in doubt."""

from collections.abc import Iterator

from curehouse.web.drawing.curve_model import CurveDrawing, Weighing
from curehouse.web.drawing.curve_scale import FONT, ROW, WIDTH, Scale, scale_of
from curehouse.web.drawing.curve_words import doubt_label, figure, shown
from curehouse.web.drawing.labels import Anchor, Label, beside, label_at, spread
from curehouse.web.drawing.svg import Box, shorten, text_width

SEVERAL = 2  # bars from which each has its own line and letter
ARM = 5.0  # half the width of a cross
_GAP = 4.0


def place(weighing: Weighing, curve: CurveDrawing, scale: Scale) -> tuple[float, float]:
    """Return the point at which *weighing* is drawn."""
    return scale.x(weighing.day), scale.y_held(shown(weighing.weight_g, curve.unit))


def heads(curve: CurveDrawing) -> list[tuple[int, Label]]:
    """Return the labels above the plot with their rows: the ready window's, then the marks'.

    Days lie at the same x however many rows there are, so these can be placed before the plot's
    height is known.
    """
    scale = scale_of(curve, 0)
    named = [(mark.day, mark.label) for mark in curve.day_marks]
    if curve.ready_window:
        named.insert(0, (curve.ready_window.first_day, curve.ready_window.label))
    placed: list[tuple[int, Label]] = []
    for day, text in named:
        row = 0
        label = _head(text, scale.x(day), row)
        while any(label.box.overlaps(other.box) for _, other in placed):
            row += 1
            label = _head(text, scale.x(day), row)
        placed.append((row, label))
    return placed


def _head(text: str, x: float, row: int) -> Label:
    """Return *text* right of the day at *x*, or left of it where it would run off the drawing."""
    right, left = WIDTH - x - _GAP, x - _GAP
    start = text_width(text, FONT) <= right or right >= left
    fitted = shorten(text, right if start else left, FONT)
    return label_at(fitted, x + _GAP if start else x - _GAP, ROW * (row + 1) - 3, "start" if start else "end", FONT)


def letters(curve: CurveDrawing, scale: Scale) -> list[Label]:
    """Return each bar's letter beside its last weighing, moved apart where they crowd."""
    ends = [(bar.letter, bar.known[-1]) for bar in curve.bars if bar.known]
    if len(ends) < SEVERAL:
        return []
    heights = [place(weighing, curve, scale)[1] for _, weighing in ends]
    apart = spread(heights, FONT, scale.plot.top + FONT / 2, scale.plot.bottom - FONT / 2)
    if apart is None:
        return []
    return [
        label_at(letter, scale.x(weighing.day) + 8, height + 0.35 * FONT, "start", FONT)
        for (letter, weighing), height in zip(ends, apart, strict=True)
    ]


def doubts(curve: CurveDrawing, scale: Scale, ends: list[Label]) -> Iterator[Label]:
    """Yield the names of the doubtful weighings, as far as there is room to read them."""
    doubtful = [(bar.letter, w) for bar in curve.bars for w in bar.weighings if w.doubt]
    points = [_around(*place(w, curve, scale), 4.0) for bar in curve.bars for w in bar.known]
    for mark in curve.day_marks:
        points.append(Box(scale.x(mark.day), scale.plot.top, scale.x(mark.day), scale.plot.bottom))
    taken = [label.box for label in ends]
    taken += [_around(*place(w, curve, scale), ARM) for _, w in doubtful]
    frame = Box(scale.plot.left, scale.plot.top - 4, WIDTH, scale.plot.bottom)
    for crowd in _crowds(doubtful, curve, scale):
        column = _column(crowd, curve, scale, frame=frame, taken=taken, points=points)
        if column:
            taken += [label.box for label in column]
            yield from column
            continue
        for _, weighing in crowd:
            x, y = place(weighing, curve, scale)
            for text in _doubt_texts(weighing, curve, scale):
                label = beside(text, x=x, y=y, size=FONT, gap=ARM + _GAP, frame=frame, taken=taken, points=points)
                if label:
                    taken.append(label.box)
                    yield label
                    break


def _crowds(doubtful: list[tuple[str, Weighing]], curve: CurveDrawing, scale: Scale) -> list[list[tuple[str, Weighing]]]:
    """Return the doubtful weighings of one round together, each round's from the top down."""
    crowds: list[list[tuple[str, Weighing]]] = []
    for one in sorted(doubtful, key=lambda pair: place(pair[1], curve, scale)):
        if crowds and place(one[1], curve, scale)[0] - place(crowds[-1][0][1], curve, scale)[0] < ARM:
            crowds[-1].append(one)
        else:
            crowds.append([one])
    return [sorted(crowd, key=lambda pair: place(pair[1], curve, scale)[1]) for crowd in crowds]


def _column(
    crowd: list[tuple[str, Weighing]],
    curve: CurveDrawing,
    scale: Scale,
    *,
    frame: Box,
    taken: list[Box],
    points: list[Box],
) -> list[Label]:
    """Return the names of one round's doubts one under the other in the order of their weights, or nothing."""
    if len(crowd) < SEVERAL:
        return []
    x = place(crowd[0][1], curve, scale)[0]
    apart = spread([place(w, curve, scale)[1] for _, w in crowd], FONT + 2, frame.top + FONT / 2, frame.bottom - FONT / 2)
    if apart is None:
        return []
    columns = []
    for texts in zip(*(_doubt_texts(w, curve, scale) for _, w in crowd), strict=True):
        # With several in a column the letter says whose weight it is.
        named = [f"{letter} {text}" for (letter, _), text in zip(crowd, texts, strict=True)]
        for side in (1, -1):
            at = x + side * (ARM + _GAP)
            anchor: Anchor = "start" if side > 0 else "end"
            columns.append([label_at(t, at, y + 0.3 * FONT, anchor, FONT) for t, y in zip(named, apart, strict=True)])
    free = [
        column
        for column in columns
        if all(label.box.within(frame) and not any(label.box.overlaps(box) for box in taken) for label in column)
    ]
    return min(free, key=lambda column: sum(label.box.overlaps(box) for label in column for box in points), default=[])


def _around(x: float, y: float, reach: float) -> Box:
    return Box(x - reach, y - reach, x + reach, y + reach)


def _doubt_texts(weighing: Weighing, curve: CurveDrawing, scale: Scale) -> tuple[str, str]:
    """Return a doubtful weighing's name, and the shorter one for want of room."""
    height = scale.y(shown(weighing.weight_g, curve.unit))
    # An arrow says that the weight lies further off than it is drawn.
    off = "↑ " if height < scale.plot.top else "↓ " if height > scale.plot.bottom else ""
    return (
        off + doubt_label(weighing.weight_g, weighing.doubt, curve.unit),
        off + figure(weighing.weight_g, curve.unit),
    )
