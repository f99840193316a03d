"""Colours written into the drawings themselves.

A page's style sheet overrides them by class (and so turns them dark); in print, in a mail and in
a saved file, where no style sheet follows, these hold. They equal the light tokens of house.css.
"""

PAPER = "#fbf8f2"
INK = "#211e1a"
MUTED = "#655f55"
LINE = "#ded7ca"
WOOD = "#8f6d48"
WATER_INK = "#23627a"
WATER = "#9cc3cd"
WATER_PALE = "#d3e4e6"
CLAY_INK = "#9a3a22"
LEAF_INK = "#3c6127"
LEAF_PALE = "#e6eedb"
OCHRE_INK = "#755600"

SANS = "system-ui, -apple-system, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif"

STATE_INK = {
    "state-water": WATER_INK,
    "state-leaf": LEAF_INK,
    "state-clay": CLAY_INK,
    "state-ochre": OCHRE_INK,
    "state-plain": MUTED,
}
