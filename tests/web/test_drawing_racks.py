"""A rack is drawn from what stands on it: every bar, every free place, every word reachable."""

import re

import pytest

from curehouse.web.drawing.racks import (
    RackDrawing,
    RackLevel,
    RackPosition,
    StandingBatch,
    draw_rack,
    rack_figure,
    rack_list,
)
from curehouse.web.marks import MARKS
from tests.web.drawing_reading import SVG, numbers, parsed, texts, with_class

WIDTH = 376
EM = 0.6  # DejaVu Sans over words and figures: 0.50 to 0.63 em a character, measured in Chromium


def batch(name: str = "Plain goat 38", bars: int = 12, **more) -> StandingBatch:
    return StandingBatch(**{"name": name, "state": "curing", "bars": bars, "href": "/batches/1/", "water_left": 0.5, **more})


def rack(*levels: tuple[RackPosition, ...]) -> RackDrawing:
    return RackDrawing("Rack 1", tuple(RackLevel(f"level {n}", positions) for n, positions in enumerate(levels, 1)))


def drawn(root, name: str) -> int:
    return sum(int(element.get(name)) for element in root.iter() if element.get(name))


def test_rack_draws_as_many_bars_and_free_places_as_there_are():
    root = parsed(draw_rack(rack((RackPosition("left", 14, (batch(bars=12),)), RackPosition("right", 12, (batch(bars=9),))))))
    assert drawn(root, "data-bars") == 21
    assert drawn(root, "data-free") == 5
    outlines = [element.get("d").count("M") for element in with_class(root, "bar-outline")]
    assert outlines == [12, 9]


def test_sixty_bars_on_a_position_are_still_sixty_blocks():
    root = parsed(draw_rack(rack(tuple(RackPosition(str(n), 60, (batch(bars=60),)) for n in range(3)))))
    assert [element.get("d").count("M") for element in with_class(root, "bar-outline")] == [60, 60, 60]


def test_more_bars_than_can_be_told_apart_share_blocks():
    root = parsed(draw_rack(rack((RackPosition("", 4000, (batch(bars=4000),)),))))
    assert 100 < drawn(root, "data-bars") < 400


def test_sample_bars_carry_a_notch_each():
    root = parsed(draw_rack(rack((RackPosition("", 24, (batch(sample_bars=3),)),))))
    assert with_class(root, "bar-notch")[0].get("d").count("M") == 3


@pytest.mark.parametrize(("water_left", "share"), [(0.25, 0.25), (1.0, 1.0), (1.3, 1.0)])
def test_water_fills_its_share_of_the_bar(water_left, share):
    root = parsed(draw_rack(rack((RackPosition("", 12, (batch(water_left=water_left),)),))))
    outline = numbers(with_class(root, "bar-outline")[0].get("d"))
    water = numbers(with_class(root, "bar-water")[0].get("d"))
    tall = outline[3]  # x, y, width, height, then back
    assert water[3] == pytest.approx(share * tall, abs=0.1)
    assert water[1] + water[3] == pytest.approx(outline[1] + tall, abs=0.1)


def test_a_dry_bar_has_no_water_and_an_unknown_one_a_dashed_line():
    dry = parsed(draw_rack(rack((RackPosition("", 12, (batch(water_left=0.0),)),))))
    unknown = parsed(draw_rack(rack((RackPosition("", 12, (batch(water_left=None),)),))))
    assert not with_class(dry, "bar-water")
    assert not with_class(dry, "bar-unknown")
    assert not with_class(unknown, "bar-water")
    assert with_class(unknown, "bar-unknown")[0].get("stroke-dasharray")


@pytest.mark.parametrize("state", sorted(MARKS))
def test_every_state_stands_over_its_bars_as_mark_and_word(state):
    root = parsed(draw_rack(rack((RackPosition("", 24, (batch(state=state),)),))))
    assert str(MARKS[state]) in {text for _, text in texts(root)}


def test_a_note_takes_the_place_of_the_word_and_the_mark_stays():
    root = parsed(draw_rack(rack((RackPosition("", 24, (batch(note="6–17 Mar"),)),))))
    assert "◷ 6–17 Mar" in {text for _, text in texts(root)}
    assert "curing, 6–17 Mar" in with_class(root, "rack-batch")[0].get("aria-label")


def test_batches_and_positions_are_links_that_say_what_they_are():
    root = parsed(draw_rack(rack((RackPosition("left", 14, (batch(),), href="/places/3/", free_note="free until 20 Mar"),))))
    links = {link.get("href"): link.get("aria-label") for link in root.iter(f"{SVG}a")}
    assert links == {
        "/batches/1/": "Plain goat 38: curing, 12 bars, 50 % of its water left",
        "/places/3/": "level 1, left: 12 of 14 bars, free until 20 Mar",
    }


def test_free_places_say_until_when_or_how_many():
    full = rack((RackPosition("", 12, (), free_note="free until 17 Feb"),), (RackPosition("", 20, (batch(),)),))
    words = {text for _, text in texts(parsed(draw_rack(full)))}
    assert {"free until 17 Feb", "8 free"} <= words


def test_the_list_says_the_same_as_the_drawing():
    said = rack_list(rack((RackPosition("left", 14, (batch(water_left=None),)), RackPosition("right", 12))))
    items = [re.sub(r"\s+", " ", "".join(item.itertext())) for item in parsed(said).iter("li")]
    assert items == [
        "level 1, left · 12 of 14 barsPlain goat 38: curing, 12 bars, water left not known",
        "Plain goat 38: curing, 12 bars, water left not known",
        "level 1, right · 0 of 12 bars",
    ]


@pytest.mark.parametrize(
    "name",
    ["Plain goat 38", "Oat & honey with calendula petals, the long one 41", "Incomprehensibilities-of-lavender 7", "S"],
)
@pytest.mark.parametrize("neighbours", [1, 3, 8])
def test_words_stay_inside_the_rack_and_off_each_other(name, neighbours):
    positions = (RackPosition("by the wall", 60, tuple(batch(name, 6, state="not_weighed") for _ in range(neighbours))),)
    root = parsed(draw_rack(rack(positions, tuple(RackPosition(str(n), 12, (batch(name, 8),)) for n in range(6)))))
    lines: dict[float, list[tuple[float, float]]] = {}
    for element, text in texts(root):
        left = float(element.get("x"))
        right = left + len(text) * EM * float(element.get("font-size"))
        assert left > 7
        assert right < WIDTH - 7
        lines.setdefault(float(element.get("y")), []).append((left, right))
    for spans in lines.values():
        spans.sort()
        assert all(before[1] <= after[0] for before, after in zip(spans, spans[1:], strict=False))


def test_a_shortened_name_is_whole_in_the_link_and_the_title():
    name = "Oat & honey with calendula petals and a very long afterthought 41"
    link = with_class(parsed(draw_rack(rack((RackPosition("", 24, (batch(name),)),)))), "rack-batch")[0]
    assert name in link.get("aria-label")
    assert name in link.find(f"{SVG}title").text


def test_a_position_of_many_batches_runs_over_several_boards_and_keeps_all_of_them():
    many = tuple(batch(f"Leftover {n}", 3) for n in range(9))
    root = parsed(draw_rack(rack((RackPosition("end", 30, many),))))
    assert len(with_class(root, "rack-batch")) == 9
    words = [text for _, text in texts(root)]
    assert "level 1, end, continued" in words
    assert words.count("◷ curing") == 9, "no board holds more than it has words' room for"
    assert drawn(root, "data-free") == 3


def test_an_empty_rack_is_still_a_drawing():
    assert parsed(draw_rack(RackDrawing("Bare", ()))).get("viewBox") == "0 0 376 22"
    assert parsed(draw_rack(rack(()))) is not None


def test_names_are_escaped_and_nothing_is_inline():
    hostile = "<img src=x onerror=alert(1)>\"'&"
    drawing = RackDrawing(
        hostile, (RackLevel(hostile, (RackPosition(hostile, 12, (batch(hostile, note=hostile),), free_note=hostile),)),)
    )
    markup = rack_figure(drawing)
    assert "<img" not in markup
    assert not re.search(r"<style|<script|\sstyle=", markup)
    assert parsed(markup).find("h2").text == hostile


def test_places_of_one_level_that_hold_the_same_are_as_wide_as_each_other():
    root = parsed(draw_rack(rack((RackPosition("place 1", 30), RackPosition("place 2", 30)))))
    first, second = (float(text.get("x")) for text, words in texts(root) if words.endswith(("place 1", "place 2")))
    assert second - first == pytest.approx(WIDTH - second - 15 + 12, abs=1), "a stretch and the gap, then a stretch to the post"


def test_a_level_on_two_boards_is_bracketed_and_stands_apart_from_the_next():
    wide = tuple(RackPosition(f"place {n}", 30, (batch("Harbour charcoal", 30), batch("Old olive", 20))) for n in (1, 2))
    root = parsed(draw_rack(rack(wide, wide)))
    boards = [float(one.get("y")) for one in with_class(root, "rack-wood") if one.get("width") == "362"]
    assert len(boards) == 4
    within, between, _ = (after - before for before, after in zip(boards, boards[1:], strict=False))
    assert between - within == pytest.approx(16)
    brackets = [(float(one.get("y")), float(one.get("height"))) for one in with_class(root, "rack-bracket")]
    assert brackets == [(boards[0], within + 5), (boards[2], within + 5)]
    captions = [text for _, text in texts(root) if "place" in text]
    assert [caption.split(" · ")[0] for caption in captions] == [
        "level 1, place 1",
        "level 1, place 2",
        "level 2, place 1",
        "level 2, place 2",
    ]


def test_levels_of_one_board_each_have_no_bracket():
    root = parsed(draw_rack(rack((RackPosition("place 1", 30), RackPosition("place 2", 30)), (RackPosition("place 1", 30),))))
    assert not with_class(root, "rack-bracket")
