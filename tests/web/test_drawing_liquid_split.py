"""The drawing of a formula's liquid."""

import re

import pytest

from curehouse.web.drawing.liquid_split import WIDE, LiquidSplit, Part, draw_for_any_screen, draw_liquid_split
from tests.web.drawing_reading import SVG, parsed, texts, with_class

WATER = Part("water", 150, "150.0 g", 1.0)
MILK = Part("goat's <milk>", 170, "170.0 g", 0.87)
SPLIT = LiquidSplit((WATER,), (MILK,), "150.0 g", "170.0 g", "320.0 g, 32 % of the fats")


def test_each_liquid_is_as_wide_as_it_is_heavy_and_filled_as_high_as_it_is_water():
    root = parsed(draw_liquid_split(SPLIT))
    bodies, fills = with_class(root, "bar-body"), with_class(root, "bar-water")
    widths = [float(body.get("width")) for body in bodies]
    assert widths[1] / widths[0] == pytest.approx(170 / 150, rel=0.01)
    heights = [float(fill.get("height")) for fill in fills]
    assert heights[1] / heights[0] == pytest.approx(0.87, rel=0.01)
    last = bodies[-1]
    assert float(last.get("x")) + float(last.get("width")) == pytest.approx(375, abs=0.2)


def test_its_description_says_the_figures():
    root = parsed(draw_liquid_split(SPLIT))
    assert root.find(f"{SVG}desc").text == (
        "In front 150.0 g: water 150.0 g (100 % water). At trace 170.0 g: goat's <milk> 170.0 g (87 % water). "
        "Together 320.0 g, 32 % of the fats."
    )


def test_a_liquid_alone_in_front_leaves_out_the_trace():
    root = parsed(draw_liquid_split(LiquidSplit((WATER,), (), "150.0 g", "0 g", "150.0 g")))
    assert not [text for _, text in texts(root) if "trace" in text]


@pytest.mark.parametrize("grams", [0.5, 3, 20])
def test_a_sliver_has_no_words_that_run_over_its_neighbour(grams):
    sliver = Part("beer, flat and boiled down", grams, "0.5 g", 0.9)
    root = parsed(draw_liquid_split(LiquidSplit((sliver, WATER), (MILK,), "x", "y", "z")))
    inside = [text for _, text in texts(root)]
    assert "beer, flat and boiled down" not in inside


def test_a_desk_gets_the_same_drawing_as_wide_as_its_page():
    root = parsed(draw_liquid_split(SPLIT, width=WIDE))
    last = with_class(root, "bar-body")[-1]
    assert float(last.get("x")) + float(last.get("width")) == pytest.approx(WIDE - 1, abs=0.2)
    both = draw_for_any_screen(SPLIT)
    assert both.count("<svg") == 2
    ids = re.findall(r' id="([^"]+)"', both)
    assert len(ids) == len(set(ids)) == 4
