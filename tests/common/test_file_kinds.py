"""What a file is by what it holds: one whole thing of a kind that is taken, or refused in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.errors import Invalid
from curehouse.common.file_kinds import ENDINGS, HEIC, JPEG, KINDS, PDF, PNG, TEXT, WEBP, XLSX, kind_of, named_as
from tests import papers
from tests.papers import DRESSED

WHOLE = {
    "a PDF": (papers.PDF, PDF),
    "a PDF padded as some printers do": (papers.PDF + bytes(2000), PDF),
    "a picture": (papers.JPEG, JPEG),
    "a picture with a film behind it": (papers.JPEG + b"\x00\x00\x00\x18ftypmp42" + bytes(99), JPEG),
    "a picture of a screen": (papers.PNG, PNG),
    "a picture of a web shop": (papers.WEBP, WEBP),
    "a picture of a phone": (papers.HEIC, HEIC),
    "the same, its container first": (papers.HEIC.replace(b"ftypheic", b"ftypmif1"), HEIC),
    "a spreadsheet": (papers.XLSX, XLSX),
    "a text": (papers.TEXT, TEXT),
    "a text that begins with a mark": (b"\xef\xbb\xbf" + papers.TEXT, TEXT),
    "a table of a German spreadsheet": ("Öl;Säurezahl\r\nOliven;0,05\r\n".encode("cp1252"), TEXT),
    "a text of Windows' notepad": ("Öl\r\n".encode("utf-16"), TEXT),
    "a text that begins as a program does": (b"MZ 7: the supplier's own number", TEXT),
    "a text with signs of less and more": (b"water < 0.1 %, purity > 99 %, a<b", TEXT),
    "a text with a picture of a word": ("in order \U0001f44d \U0001fae8".encode(), TEXT),
}


@pytest.mark.parametrize("what", WHOLE)
def test_a_file_is_what_it_holds(what: str) -> None:
    content, kind = WHOLE[what]
    assert kind_of(content) == kind


@pytest.mark.parametrize("what", DRESSED)
def test_what_is_something_else_is_refused_with_what_to_do(what: str) -> None:
    content, code = DRESSED[what]
    with pytest.raises(Invalid) as refused:
        kind_of(content)
    assert (refused.value.code, refused.value.field) == (code, "file")
    assert any(word in refused.value.message for word in ("attach", "save")), refused.value.message


_NOISY = st.tuples(st.sampled_from([content for content, _kind in WHOLE.values()]), st.integers(0, 200), st.binary(max_size=40))


@given(st.binary(max_size=3000) | _NOISY.map(lambda one: one[0][: one[1]] + one[2]))
def test_any_bytes_are_of_a_kind_or_refused(content: bytes) -> None:
    try:
        assert kind_of(content) in KINDS
    except Invalid as refused:
        assert refused.field == "file"


@pytest.mark.parametrize(
    ("kind", "name", "kept"),
    [
        (PDF, "lot 7.pdf", "lot 7.pdf"),
        (PDF, "lot 7.PDF", "lot 7.PDF"),
        (PDF, "lot 7.exe", "lot 7.exe.pdf"),
        (PDF, "lot 7", "lot 7.pdf"),
        (TEXT, "figures.csv", "figures.csv"),
        (TEXT, "start.bat", "start.bat.txt"),
        (TEXT, "page.html", "page.html.txt"),
        (TEXT, "txt", "txt.txt"),
        (JPEG, "IMG_1.jpeg", "IMG_1.jpeg"),
        (XLSX, "figures.xlsm", "figures.xlsm.xlsx"),
    ],
)
def test_a_name_ends_as_its_kind_does(kind: str, name: str, kept: str) -> None:
    assert named_as(kind, name) == kept


def test_no_ending_is_of_something_that_runs() -> None:
    endings = {ending for of_kind in ENDINGS.values() for ending in of_kind}
    assert not endings & {
        "html",
        "htm",
        "svg",
        "xml",
        "js",
        "bat",
        "cmd",
        "exe",
        "com",
        "hta",
        "vbs",
        "ps1",
        "sh",
        "url",
        "lnk",
    }
