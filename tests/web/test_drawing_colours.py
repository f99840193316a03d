"""Colours and marks: readable in light and dark, and the same in page and drawing."""

import re
from pathlib import Path

import pytest
from reportlab.pdfbase.ttfonts import TTFont

import curehouse.web
from curehouse.web.drawing import order_pdf, palette
from curehouse.web.marks import MARKS, mark_of

STATIC = Path(curehouse.web.__file__).parent / "static" / "curehouse"
TOKENS = (STATIC / "tokens.css").read_text(encoding="utf-8")
TEXT, DRAWN = 4.5, 3.0  # WCAG 2.2, success criteria 1.4.3 and 1.4.11

TEXT_ON_GROUND = [
    *[(ink, ground) for ink in ("ink", "muted") for ground in ("paper", "surface", "water-ground", "leaf-ground")],
    *[(ink, ground) for ink in ("ink", "muted") for ground in ("clay-ground", "ochre-ground", "leaf-pale", "water-pale")],
    *[(f"{name}-ink", f"{name}-ground") for name in ("water", "clay", "leaf", "ochre")],
    *[(f"{name}-ink", ground) for name in ("water", "clay", "leaf", "ochre") for ground in ("paper", "surface")],
    ("leaf-ink", "leaf-pale"),
    ("water-ink", "water-pale"),
    ("ochre-ink", "leaf-pale"),
    ("act-ink", "act"),
    ("act-ink", "act-over"),
]
DRAWN_ON_GROUND = [
    *[(mark, ground) for mark in ("edge", "focus", "wood", "water-ink") for ground in ("paper", "surface")],
    ("water-ink", "water"),
]


def tokens(scheme: str) -> dict[str, str]:
    light, dark, printed = re.findall(r":root \{(.*?)\}", TOKENS, re.DOTALL)
    found = {"light": light, "dark": light + dark, "print": light + printed}[scheme]
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", found))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (w3.org/TR/WCAG22/#dfn-relative-luminance)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it (w3.org/TR/WCAG22/#dfn-contrast-ratio)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_computed_as_the_standard_says():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # from memory: the grey that just fails


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize(("ink", "ground"), TEXT_ON_GROUND)
def test_text_is_readable_on_its_ground(scheme, ink, ground):
    found = tokens(scheme)
    assert contrast(found[ink], found[ground]) >= TEXT


@pytest.mark.parametrize("scheme", ["light", "dark", "print"])
@pytest.mark.parametrize(("mark", "ground"), DRAWN_ON_GROUND)
def test_edges_and_lines_stand_out_from_their_ground(scheme, mark, ground):
    found = tokens(scheme)
    assert contrast(found[mark], found[ground]) >= DRAWN


@pytest.mark.parametrize("name", [name for name in dir(palette) if re.fullmatch(r"[A-Z_]+", name)])
def test_the_drawings_own_colours_are_the_light_ones(name):
    colour = getattr(palette, name)
    if isinstance(colour, str) and colour.startswith("#"):
        assert tokens("light")[name.lower().replace("_", "-")] == colour


def test_no_style_sheet_but_the_tokens_names_a_colour():
    for sheet in STATIC.glob("*.css"):
        if sheet.name != "tokens.css":
            assert not re.findall(r"#[0-9a-f]{3,8}\b|rgba?\(|hsla?\(", sheet.read_text(encoding="utf-8")), sheet.name


def test_every_token_used_is_defined():
    defined = set(re.findall(r"--([a-z-]+):", TOKENS))
    used = {name for sheet in STATIC.glob("*.css") for name in re.findall(r"var\(--([a-z-]+)\)", sheet.read_text("utf-8"))}
    assert used <= defined


def test_no_style_sheet_loads_from_elsewhere():
    for sheet in STATIC.glob("*.css"):
        assert not re.search(r"@import|url\(", sheet.read_text(encoding="utf-8"))


def test_every_state_has_a_word_a_mark_of_its_own_and_a_coloured_class():
    marks = [mark.mark for mark in MARKS.values()]
    assert len(set(marks)) == len(marks)
    assert all(len(mark) == 1 for mark in marks)
    sheet = (STATIC / "parts.css").read_text(encoding="utf-8")
    for mark in MARKS.values():
        assert mark.word
        assert f".{mark.css} {{" in sheet
        assert mark.css in palette.STATE_INK


def test_a_state_without_a_mark_is_named_in_the_refusal():
    with pytest.raises(LookupError, match="'half_dry'"):
        mark_of("half_dry")


def test_every_mark_is_drawn_by_a_font_that_is_usual() -> None:
    """DejaVu Sans stands for them: what it lacks many computers lack, and show an empty box."""
    drawn = TTFont("usual", str(Path(order_pdf.__file__).parent.parent / "fonts" / "DejaVuSans.ttf")).face.charToGlyph
    assert [mark.state for mark in MARKS.values() if ord(mark.mark) not in drawn] == []
