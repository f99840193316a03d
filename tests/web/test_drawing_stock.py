"""The drawing of what will be here: what it shows it says, nothing runs off it, and strange names stay harmless."""

import dataclasses
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curehouse.web.drawing.stock import StockDay, StockDrawing, StockFlag, StockMark, draw_stock, stock_figure
from tests.web.drawing_reading import SVG, numbers, parsed, spans, with_class

WIDTH, FONT, EM = 376, 13, 0.6


def stock(**changes: object) -> StockDrawing:
    days = [StockDay(day, 20 - day / 5, 15 - day / 6, 22 - day / 9, 20 - day / 20, f"Day {day}: so much") for day in range(91)]
    drawing = StockDrawing(
        "Olive oil", "ahead-7", date(2026, 3, 10), 20.0, days,
        marks=(
            StockMark("runs", 5, 5, 5, "Oat takes 2 kg"),
            StockMark("comes", 12, 9, 20, "Order 3"),
            StockMark("if sent", 16, 16, 16, "if Order 4 is sent"),
            StockMark("expires", 88, 88, 88, "lot 9"),
        ),
        flags=(StockFlag(60, "likely short Sat 9 May", True), StockFlag(30, "perhaps short Thu 9 Apr", False)),
        unit="kg", said="Likely short on Sat 9 May.", has_unplanned=True,
    )  # fmt: skip
    return dataclasses.replace(drawing, **changes)


def test_it_is_named_and_described() -> None:
    root = parsed(draw_stock(stock()))
    assert root.get("role") == "img"
    named = {element.get("id"): element.text for element in root.iter() if element.get("id")}
    assert root.get("aria-labelledby").split() == list(named) == ["ahead-7-title", "ahead-7-desc"]
    assert named["ahead-7-desc"] == "Likely short on Sat 9 May."


def test_the_planned_line_is_full_the_likely_one_dashed_and_a_band_lies_between_the_ends() -> None:
    root = parsed(draw_stock(stock()))
    (planned,), (likely,), (band,) = (with_class(root, name) for name in ("curve-line", "curve-expected", "curve-band"))
    assert planned.get("stroke-dasharray") is None
    assert likely.get("stroke-dasharray")
    assert numbers(planned.get("d"))[-1] < numbers(likely.get("d"))[-1], "more is left by plan alone"
    heights = numbers(band.get("d"))[1::2]
    assert min(heights) < numbers(likely.get("d"))[-1] < max(heights)
    legend = stock_figure(stock()).split("curve-legend", 1)[1]
    assert ["as planned" in legend, "usual use besides" in legend, "sooner or later" in legend] == [True] * 3


def test_without_other_use_and_orders_there_is_one_line_and_no_legend() -> None:
    days = [StockDay(day, 9.0, 9.0, 9.0, 9.0) for day in range(91)]
    drawn = stock_figure(stock(days=days, marks=(), flags=(), has_unplanned=False))
    assert "curve-expected" not in drawn
    assert "curve-band" not in drawn
    assert "curve-legend" not in drawn


def test_a_drop_is_upright_for_the_amount_changes_on_a_day() -> None:
    days = [StockDay(day, left, left, left, left) for day, left in enumerate([10.0, 10.0, 4.0, 4.0])]
    (line,) = with_class(parsed(draw_stock(stock(days=days, marks=(), flags=()))), "curve-line")
    corners = numbers(line.get("d"))
    xs, ys = corners[0::2], corners[1::2]
    assert all(x == after or y == lower for x, after, y, lower in zip(xs, xs[1:], ys, ys[1:], strict=False))
    assert len(set(ys)) == 3, "20 at first, then 10, then 4"


def test_each_kind_has_a_row_with_its_word_and_what_is_not_there_has_none() -> None:
    words = spans(parsed(draw_stock(stock())), FONT, EM)
    heights = [words[kind][2] for kind in ("runs", "comes", "if sent", "expires")]
    assert heights == sorted(heights)
    assert "comes" not in spans(parsed(draw_stock(stock(marks=stock().marks[:1]))), FONT, EM)


def test_an_order_reaches_from_its_early_to_its_safe_day() -> None:
    root = parsed(draw_stock(stock()))
    (reach,), (dot,) = with_class(root, "stock-reach"), with_class(root, "stock-comes")
    assert float(reach.get("x1")) < float(dot.get("cx")) < float(reach.get("x2"))


def test_what_is_not_sent_is_a_dotted_circle_of_its_own_and_moves_no_line() -> None:
    drawn, without = draw_stock(stock()), draw_stock(stock(marks=[one for one in stock().marks if one.kind != "if sent"]))
    (circle,) = with_class(parsed(drawn), "stock-draft")
    assert circle.get("stroke-dasharray")
    lines = [with_class(parsed(one), name)[0].get("d") for name in ("curve-line", "curve-band") for one in (drawn, without)]
    assert lines[0] == lines[1]
    assert lines[2] == lines[3]


def test_the_cursor_starts_today_and_passes_over_days_of_which_nothing_is_said() -> None:
    days = [StockDay(day, 9.0, 9.0, 9.0, 9.0, "said" if day % 7 == 0 else "") for day in range(91)]
    stops = with_class(parsed(draw_stock(stock(days=days))), "curve-stop")
    assert len(stops) == 13
    assert [stop.get("data-foretold") is None for stop in stops] == [True] + [False] * 12
    xs = [float(stop.get("data-x")) for stop in stops]
    assert xs == sorted(xs)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0, 1e6), min_size=1, max_size=200),
    st.floats(0, 1e6),
    st.text(max_size=40),
    st.sampled_from(["g", "kg", "lb", "pieces"]),
    st.lists(st.integers(0, 199), max_size=4),
)
def test_whatever_the_figures_nothing_runs_off_it(lefts, opening, name, unit, days) -> None:
    last = len(lefts) - 1
    name = "".join(letter for letter in name if letter.isprintable())
    drawing = stock(
        material=name, opening=opening, unit=unit,
        days=[StockDay(day, left, left / 2, left, left, "said") for day, left in enumerate(lefts)],
        marks=[StockMark("comes", min(day, last), 0, last, name) for day in days],
        flags=[StockFlag(min(day, last), "perhaps short Thu 9 Apr 2027", False) for day in days[:2]],
    )  # fmt: skip
    root = parsed(draw_stock(drawing))
    _x, _y, width, height = numbers(root.get("viewBox"))
    assert width == WIDTH
    for words, (left, right, baseline) in spans(root, FONT, EM).items():
        assert -0.5 <= left <= right <= WIDTH + 0.5, words
        assert 0 <= baseline <= height, words
    for path in root.iter(f"{SVG}path"):
        corners = numbers(path.get("d"))
        assert all(0 <= x <= WIDTH for x in corners[0::2])
        assert all(0 <= y <= height for y in corners[1::2])


@pytest.mark.parametrize("opening", [0.0, 5e-4])
def test_nothing_at_all_is_a_line_at_the_bottom(opening: float) -> None:
    days = [StockDay(day, 0.0, 0.0, 0.0, 0.0) for day in range(91)]
    drawn = draw_stock(stock(days=days, opening=opening, flags=(), marks=()))
    assert "nan" not in drawn
    assert with_class(parsed(drawn), "curve-line")
