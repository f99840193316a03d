"""The row of bars above the round."""

import pytest

from curehouse.web.drawing.bars import BarRow, draw_bar_row
from tests.web.drawing_reading import SVG, parsed, texts, with_class


def test_row_draws_every_bar_and_one_current_frame():
    root = parsed(draw_bar_row(BarRow("Plain goat 38", 12, ("A", "B", "C"), "B", 0.4)))
    assert with_class(root, "bar-outline")[0].get("d").count("M") == 12
    assert len(with_class(root, "bar-current")) == 1


def test_row_letters_its_sample_bars_and_checks_those_weighed():
    root = parsed(draw_bar_row(BarRow("Plain goat 38", 12, ("A", "B", "C"), "B", weighed=frozenset("A"))))
    assert [text for _, text in texts(root)] == ["A\u00a0✓", "B", "C"]
    assert with_class(root, "bar-now")[0].text == "B"


def test_row_says_which_bar_is_on_the_scale():
    root = parsed(draw_bar_row(BarRow("Goat <38>", 12, ("A", "B"), "B", weighed=frozenset("A"))))
    assert root.find(f"{SVG}title").text == "Goat <38>: 12 bars, now bar B, already weighed: A"


@pytest.mark.parametrize("bars", [1, 3, 40, 64, 300])
def test_the_current_frame_lies_on_the_board_however_many_bars(bars):
    root = parsed(draw_bar_row(BarRow("Any", bars, ("A", "B", "C"), "C")))
    frame = with_class(root, "bar-current")[0]
    left, top = float(frame.get("x")), float(frame.get("y"))
    assert left >= 0
    assert left + float(frame.get("width")) <= 376
    assert 0 <= top < top + float(frame.get("height")) <= 75
