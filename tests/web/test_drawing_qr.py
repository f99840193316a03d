"""The QR code that is drawn holds the modules that were made, and nothing of its text as markup."""

import re

import pytest
import segno

from curehouse.web.drawing.qr import draw_qr


@pytest.mark.parametrize("text", ["x", "otpauth://totp/Curehouse:o%40x.example?secret=" + "A" * 32, "<script>&\"'"])
def test_every_dark_module_is_drawn_and_no_other(text: str) -> None:
    picture = draw_qr(text, title="A <code>")
    code = [list(row) for row in segno.make(text, micro=False).matrix_iter(border=4)]
    drawn = [[0] * len(code) for _ in code]
    for x, y, length in (map(int, one) for one in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", picture)):
        drawn[y][x : x + length] = [1] * length
    assert drawn == [[int(bool(cell)) for cell in row] for row in code]
    assert f'viewBox="0 0 {len(code)} {len(code)}"' in picture
    assert "A &lt;code&gt;" in picture
    assert "<script" not in picture
