"""A QR code as SVG, black on white whatever the page's colours are: that is what cameras read."""

from collections.abc import Iterator
from itertools import groupby

import segno
from django.utils.safestring import SafeString

from curehouse.web.drawing.svg import element

# Clear space around the code, in modules (ISO/IEC 18004).
_QUIET = 4


def draw_qr(text: str, *, title: str) -> SafeString:
    """Return *text* as one <svg>, as large as the page makes it."""
    code = segno.make(text, micro=False)
    rows = [list(row) for row in code.matrix_iter(border=_QUIET)]
    size = len(rows)
    return element(
        "svg",
        element("title", title, id="qr-title"),
        element("rect", width=str(size), height=str(size), fill="#fff"),
        element("path", d="".join(_runs(rows)), fill="#000"),
        xmlns="http://www.w3.org/2000/svg",
        class_="qr",
        view_box=f"0 0 {size} {size}",
        role="img",
        aria_labelledby="qr-title",
        shape_rendering="crispEdges",
    )


def _runs(rows: list[list[int]]) -> Iterator[str]:
    for y, row in enumerate(rows):
        x = 0
        for dark, cells in groupby(row):
            length = len(list(cells))
            if dark:
                yield f"M{x} {y}h{length}v1h-{length}z"
            x += length
