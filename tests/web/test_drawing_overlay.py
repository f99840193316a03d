"""Batches laid over each other: each line where its figures say, named at its end, and told in words."""

import re
import xml.etree.ElementTree as ET

import pytest

from curehouse.core.cure.formula_curve import ExpectedPoint
from curehouse.web.drawing.curve_scale import WIDTH
from curehouse.web.drawing.overlay import MOST_LINES, Overlay, OverlayLine, against, draw_overlay, expected_on

EXPECTED = tuple(ExpectedPoint(float(day), 99 - 0.3 * day, 100 - 0.25 * day, 100 - 0.2 * day) for day in range(1, 57, 5))


def line(number: int, *, by: float = 0.0) -> OverlayLine:
    points = tuple((1.0 + 7 * week, 100 - (1.5 + by) * week) for week in range(6))
    return OverlayLine(f"Goat & oat {number}", f"{number}", points)


def drawn(overlay: Overlay) -> ET.Element:
    return ET.fromstring(draw_overlay(overlay).replace('xmlns="http://www.w3.org/2000/svg"', ""))  # noqa: S314


def test_a_reader_hears_every_batch_and_what_is_expected() -> None:
    svg = drawn(Overlay("Goat & oat", (line(2), line(1, by=0.2)), EXPECTED))
    assert svg.get("role") == "img"
    title, desc = svg.find("title"), svg.find("desc")
    assert svg.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    words = desc.text.replace("\u00a0", " ")
    assert title.text == "Batches of Goat & oat laid over each other"
    assert "Expected on day 56: 86.0 %, 8 of 10 batches between 82.2 and 88.8 %." in words
    # On day 36: 100 - 1.5 x 5 = 92.5; expected 100 - 0.25 x 36 = 91.
    assert "Goat & oat 2: 92.5 % on day 36, 1.5 above what is expected." in words
    assert "Goat & oat 1: 91.5 % on day 36, 0.5 above what is expected." in words


def test_a_dozen_names_stand_one_under_the_other_inside_the_drawing() -> None:
    lines = tuple(line(90 + number, by=0.01 * number) for number in range(MOST_LINES))
    svg = drawn(Overlay("Goat & oat", lines, EXPECTED))
    names = [text for text in svg.iter("text") if "curve-label" in (text.get("class") or "")]
    assert sorted(text.text for text in names) == sorted([*(one.short for one in lines), "expected"])
    heights = sorted(float(text.get("y")) for text in names)
    assert min(after - before for before, after in zip(heights, heights[1:], strict=False)) >= 13
    assert all(float(text.get("x")) < WIDTH - 20 for text in names)


def test_the_newest_is_drawn_strongest_and_last() -> None:
    svg = drawn(Overlay("Goat & oat", (line(2), line(1))))
    widths = [path.get("stroke-width") for path in svg.iter("path") if path.get("class") == "curve-line"]
    assert widths == ["1.4", "2.75"]
    assert svg.find("path[@class='curve-band']") is None


def test_a_name_cannot_break_out() -> None:
    evil = OverlayLine("<script>", "<script>", ((0.0, 100.0), (7.0, 95.0)))
    assert "<script" not in draw_overlay(Overlay("<b>", (evil,)))


def test_what_is_expected_between_days_lies_on_the_line_and_nothing_outside() -> None:
    assert expected_on(EXPECTED, 3.5).middle_pct == pytest.approx(100 - 0.25 * 3.5)
    assert expected_on(EXPECTED, 0.5) is None
    assert expected_on(EXPECTED, 57.0) is None
    assert expected_on((), 3.0) is None


def test_a_batch_outside_of_the_band_is_said_to_be() -> None:
    far = OverlayLine("A", "1", ((1.0, 100.0), (36.0, 95.0)))
    assert re.search("outside of what 8 of 10 do$", against(far, EXPECTED))
    assert against(far, ()) == "95.0\u00a0% on day\u00a036"
