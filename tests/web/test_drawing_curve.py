"""The curve of a batch's cure, drawn from awkward figures as well as from fair ones."""

import dataclasses
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.web.drawing.curve import (
    CurveDrawing,
    DayMark,
    ForecastPoint,
    ReadyWindow,
    SampleCurve,
    Weighing,
    curve_figure,
    describe,
    draw_curve,
)
from curehouse.web.drawing.curve_model import mean_lines
from tests.web.drawing_reading import SVG, numbers, parsed, spans, texts, with_class

WIDTH, HEIGHT, FONT = 376, 268, 13
EM = 0.6  # DejaVu Sans over words and figures: 0.50 to 0.63 em a character, measured in Chromium


def bar(letter: str, *weighings: tuple) -> SampleCurve:
    return SampleCurve(letter, tuple(Weighing(*weighing) for weighing in weighings))


def goat(**changes) -> CurveDrawing:
    drawing = CurveDrawing(
        "Plain goat 43",
        (
            bar("A", (0, 131.2), (7, 124.1), (14, 120.9), (21, 119.1)),
            bar("B", (0.01, 133.0), (7.01, 125.6), (14.01, 131.2, "bar B?"), (21.01, 120.8)),
            bar("C", (0.02, 131.0), (7.02, 123.4), (14.02, 120.6), (21.02, 118.9)),
        ),
        day_marks=(DayMark(28, "minimum age"), DayMark(56, "latest day")),
    )
    return dataclasses.replace(drawing, **changes)


def test_curve_draws_a_circle_for_every_weighing_that_counts_and_crosses_the_doubtful():
    root = parsed(draw_curve(goat()))
    assert len(with_class(root, "curve-weighing")) == 11
    assert len(with_class(root, "curve-doubt")) == 1


def test_curve_names_the_doubtful_weighing_where_it_lies():
    root = parsed(draw_curve(goat()))
    left, right, baseline = spans(root, FONT, EM)["131.2: bar B?"]
    arms = numbers(with_class(root, "curve-doubt")[0].get("d"))
    assert min(abs(left - max(arms[0::2])), abs(right - min(arms[0::2]))) < 12
    assert abs(baseline - sum(arms[1::2]) / 4) < 40


def test_curve_leaves_the_doubtful_weighing_out_of_the_line():
    with_doubt = with_class(parsed(draw_curve(goat())), "curve-line")[0].get("d")
    heights = numbers(with_doubt)[1::2]
    assert heights == sorted(heights), "a batch that only lost weight has a line that only falls"


def test_curve_line_makes_no_step_when_a_bar_is_sold_early():
    lines = mean_lines((bar("A", (0, 120), (7, 118), (14, 117)), bar("B", (0, 140), (7, 138))))
    assert [round(weight, 6) for _, weight in lines[0]] == [130, 128, 127]


def test_curve_line_reads_a_missed_week_from_the_line_between_its_neighbours():
    lines = mean_lines((bar("A", (0, 120), (7, 116), (14, 114)), bar("B", (0, 120), (14, 112))))
    assert [weight for _, weight in lines[0]] == pytest.approx([120, 116, 113])


def test_curve_line_starts_anew_where_no_bar_spans_the_gap():
    lines = mean_lines((bar("A", (0, 120), (7, 118)), bar("B", (30, 140), (37, 139))))
    assert lines == (((0, 120), (7, 118)), ((30, 140), (37, 139)))


def test_description_says_the_figures_in_sentences():
    said = describe(goat()).replace("\u00a0", " ")
    mean_first, mean_last = (131.2 + 133.0 + 131.0) / 3, (119.1 + 120.8 + 118.9) / 3
    lost = 100 * (mean_first - mean_last) / mean_first
    assert f"11 weighings of 3 bars. Mean {mean_first:.1f} g on day 0" in said
    assert f"{mean_last:.1f} g on day 21, {lost:.1f} % less." in said
    assert "In doubt, and left out of the line and the verdict: bar B 131.2 g on day 14 (bar B?)." in said
    assert "minimum age on day 28" in said
    root = parsed(draw_curve(goat()))
    assert root.find(f"{SVG}desc").text.replace("\u00a0", " ") == said


def test_description_says_more_when_the_bars_have_gained():
    said = describe(CurveDrawing("Humid", (bar("A", (0, 100), (7, 101.5)),)))
    assert "1.5\u00a0% more" in said


def test_drawing_is_named_by_its_title_and_description():
    root = parsed(draw_curve(goat(key="cure-7")))
    ids = {element.get("id") for element in root.iter()} - {None}
    assert root.get("role") == "img"
    assert set(root.get("aria-labelledby").split()) == ids == {"cure-7-title", "cure-7-desc"}


def test_curve_without_weighings_says_so_and_what_starts_it():
    root = parsed(draw_curve(CurveDrawing("New", (bar("A"),), day_marks=(DayMark(28, "minimum age"),))))
    words = " ".join(text for _, text in texts(root))
    assert "No weighings yet." in words
    assert "28\u00a0d" in words
    assert not with_class(root, "curve-weighing")


def test_curve_shows_ounces_when_asked():
    root = parsed(draw_curve(goat(unit="oz")))
    words = [text for _, text in texts(root)]
    # 131.2 g / 28.349523125 g per avoirdupois ounce (exact; NIST Handbook 44, appendix C) = 4.628 oz
    assert "4.628: bar B?" in words
    assert any(text.endswith("\u00a0oz") for text in words)
    assert not any(text.endswith("\u00a0g") for text in words)


def test_a_doubtful_weight_far_off_is_held_at_the_edge_with_an_arrow():
    slip = CurveDrawing("Slip", (bar("A", (0, 120), (7, 118), (14, 1170.0, "decimal slip?"), (21, 116)),))
    root = parsed(draw_curve(slip))
    assert "↑ 1170.0: decimal slip?" in {text for _, text in texts(root)}
    circles = [float(circle.get("cy")) for circle in with_class(root, "curve-weighing")]
    assert max(circles) - min(circles) > 100, "the fair weights still fill the plot"


def test_forecast_is_a_band_and_a_dashed_line_on_a_ready_window():
    points = tuple(ForecastPoint(day, 119 - day / 20, 120 - day / 20, 121 - day / 20) for day in (21, 42, 63))
    drawing = goat(forecast=points, ready_window=ReadyWindow(34, 45, "ready 8 in 10"))
    root = parsed(draw_curve(drawing))
    assert with_class(root, "curve-expected")[0].get("stroke-dasharray")
    assert len(numbers(with_class(root, "curve-band")[0].get("d"))) == 2 * 2 * len(points)
    window = with_class(root, "curve-window")[0]
    assert float(window.get("width")) > 0
    assert "Ready 8 in 10: day\u00a034 to day\u00a045." in describe(drawing)


def test_names_and_doubts_are_escaped():
    hostile = '<script>alert("x")</script>&"\''
    drawing = CurveDrawing(
        hostile,
        (bar("A", (0, 120), (7, 119, hostile)), bar("<b>", (0, 121))),
        day_marks=(DayMark(28, hostile),),
        ready_window=ReadyWindow(1, 2, hostile),
    )
    markup = curve_figure(drawing)
    assert "<script" not in markup
    assert "<b>" not in markup
    root = parsed(markup)
    assert root.find(f".//{SVG}title").text == f"Cure of {hostile}"


def test_drawing_carries_no_style_and_no_script():
    markup = curve_figure(goat())
    assert not re.search(r"<style|<script|\sstyle=|\son\w+=|href", markup)


def test_weighings_of_one_round_share_a_cursor_stop():
    stops = with_class(parsed(draw_curve(goat())), "curve-stop")
    assert len(stops) == 4
    assert stops[3].get("data-say").replace("\u00a0", " ") == "day 21: A 119.1 · B 120.8 · C 118.9 g"
    assert "(in doubt: bar B?)" in stops[2].get("data-say")


AHEAD = (ForecastPoint(21, 118, 119, 120), ForecastPoint(28, 115.04, 117.96, 119), ForecastPoint(35, 112, 116, 118.5))


def test_the_band_has_a_name_and_the_figure_a_legend():
    root = parsed(draw_curve(goat(forecast=AHEAD)))
    named = with_class(root, "curve-band")[0].find(f"{SVG}title").text.replace("\u00a0", " ")
    assert named == "80 % band: 8 of 10 weights are expected within it"
    assert "8 of 10 weights lie within the 80 % band" in describe(goat(forecast=AHEAD)).replace("\u00a0", " ")
    legend = with_class(parsed(curve_figure(goat(forecast=AHEAD))), "curve-legend")[0]
    assert " ".join("".join(legend.itertext()).split()).replace("\u00a0", " ") == "weighed expected 80 % band: 8 of 10 weights"
    assert not with_class(parsed(curve_figure(goat())), "curve-legend")


def test_the_cursor_goes_on_from_the_last_weighing_into_the_days_foretold():
    found = with_class(parsed(draw_curve(goat(forecast=AHEAD))), "curve-stop")
    said = [stop.get("data-say").replace("\u00a0", " ") for stop in found]
    # The day of the last weighing is said once, as it was weighed.
    assert len(said) == 6 and said[3].startswith("day 21: A 119.1")
    assert said[4:] == [
        "day 28, expected: 118.0 g, 8 of 10 between 115.0 and 119.0 g",
        "day 35, expected: 116.0 g, 8 of 10 between 112.0 and 118.5 g",
    ]
    assert [stop.get("data-foretold") is not None for stop in found] == [False] * 4 + [True] * 2
    places = [float(stop.get("data-x")) for stop in found]
    assert places == sorted(places)


@pytest.mark.parametrize("day", [0.0, 3.0, 30.0, 55.0, 56.0])
def test_labels_flip_at_the_edge_so_that_none_runs_off(day):
    drawing = CurveDrawing(
        "Edge",
        (bar("A", (0, 120), (day, 121.0, "the neighbour's weight?"), (56, 118)),),
        day_marks=(DayMark(day, "safety check passed"), DayMark(56, "latest day")),
    )
    found = spans(parsed(draw_curve(drawing)), FONT, EM)
    assert {"safety check passed", "latest day"} <= set(found), "both are whole, on whichever side"
    for left, right, baseline in found.values():
        assert left >= -1
        assert right <= WIDTH + 1
        assert FONT * 0.7 <= baseline <= HEIGHT


def test_labels_of_doubtful_weighings_overlap_no_other_and_no_axis():
    crowd = CurveDrawing(
        "Crowd",
        tuple(
            bar(letter, (0, 120 + n / 10), (7, 117 + n / 10, "look"), (8 + n, 116.0, "look"), (21, 112 + n / 10))
            for n, letter in enumerate("ABCDEF")
        ),
    )
    root = parsed(draw_curve(crowd))
    named = [(element, text) for element, text in texts(root) if "curve-ochre" in element.get("class", "")]
    boxes = []
    for element, text in named:
        x, y, width = float(element.get("x")), float(element.get("y")), len(text) * EM * FONT
        left = x if element.get("text-anchor") == "start" else x - width
        boxes.append((left, y - 0.75 * FONT, left + width, y + 0.2 * FONT))
    assert len(boxes) > 2
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            assert one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3]
    axis = [float(line.get("x1")) for line in with_class(root, "curve-grid")]
    assert all(box[0] >= min(axis) - 1 for box in boxes)


@pytest.mark.parametrize(
    "weights_g",
    [(100.0,), (100.0, 100.0, 100.0), (0.3, 0.29), (98765.4, 98770.0), (100.0, 103.0, 101.0), tuple(range(160, 100, -1))],
    ids=["one", "all the same", "tiny", "huge and gaining", "a humid spell", "sixty"],
)
def test_every_weight_lies_inside_the_plot_between_labelled_ticks(weights_g):
    drawing = CurveDrawing("Any", (bar("A", *((7 * n, w) for n, w in enumerate(weights_g))),))
    root = parsed(draw_curve(drawing))
    circles = with_class(root, "curve-weighing")
    assert len(circles) == len(weights_g)
    for circle in circles:
        assert 0 < float(circle.get("cx")) < WIDTH
        assert 0 < float(circle.get("cy")) < HEIGHT - 20
    ticks = [text for _, text in texts(root) if text.endswith("\u00a0g")]
    assert 2 <= len(ticks) == len(set(ticks)) <= 8


weighings = st.lists(
    st.builds(
        Weighing,
        day=st.floats(-2, 2000),
        weight_g=st.floats(0.01, 99999),
        doubt=st.sampled_from(["", "", "", "digits swapped?"]),
    ),
    max_size=12,
).map(tuple)


@given(bars=st.lists(weighings, max_size=6), marks=st.lists(st.floats(0, 400), max_size=3))
def test_any_figures_give_a_drawing_with_every_weighing_in_it(bars, marks):
    drawing = CurveDrawing(
        "Any",
        tuple(SampleCurve(letter, known) for letter, known in zip("ABCDEF", bars, strict=False)),
        day_marks=tuple(DayMark(day, "marked") for day in marks),
    )
    root = parsed(draw_curve(drawing))
    every = [weighing for known in bars for weighing in known]
    assert len(with_class(root, "curve-doubt")) == sum(bool(weighing.doubt) for weighing in every)
    circles = with_class(root, "curve-weighing")
    assert len(circles) == sum(not weighing.doubt for weighing in every)
    for circle in circles:
        x, y = float(circle.get("cx")), float(circle.get("cy"))
        assert math.isfinite(x + y)
        assert 0 <= x <= WIDTH
        assert 0 <= y <= HEIGHT


def test_doubts_of_one_round_are_named_in_the_order_of_their_weights_beside_their_crosses():
    three = CurveDrawing(
        "Three",
        tuple(
            bar(letter, (0, 134.0 - n), (35, 118.0 - n), (42, weight, "too heavy?"))
            for n, (letter, weight) in enumerate((("A", 124.1), ("B", 122.7), ("C", 121.0)))
        ),
        day_marks=(DayMark(56, "latest day"),),
    )
    root = parsed(draw_curve(three))
    named = [(float(element.get("y")), text) for element, text in texts(root) if "curve-ochre" in element.get("class", "")]
    assert [text for _, text in sorted(named)] == ["A 124.1: too heavy?", "B 122.7: too heavy?", "C 121.0: too heavy?"]
    crosses = [numbers(cross.get("d"))[1] + 5 for cross in with_class(root, "curve-doubt")]
    for (baseline, _), cross in zip(sorted(named), sorted(crosses), strict=True):
        assert abs(baseline - 0.3 * FONT - cross) <= FONT
