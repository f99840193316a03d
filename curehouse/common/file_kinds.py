"""What a file is by what it holds, for the kinds that are kept and handed out again.

Neither the name nor what the sender says of the kind counts. A file must be one thing and whole: what is a
picture or a PDF and a packed folder or a web page besides is refused, for it is shown as the one and opened as
the other. First bytes are read by puremagic (pure Python, well kept; 1.30 is the last for Python 3.11).
"""

import codecs
import io
import re
import unicodedata
import zipfile

import puremagic

from curehouse.common.active_text import has_active_head, is_active
from curehouse.common.errors import Invalid
from curehouse.common.pdfs import check_pdf
from curehouse.common.sheet_parts import PROGRAMS, Within, what_is_within
from curehouse.common.tables.xlsx_files import weigh
from curehouse.common.whole_pictures import heic_is_whole, jpeg_is_whole, png_is_whole

PDF, PNG, JPEG, WEBP, HEIC = "application/pdf", "image/png", "image/jpeg", "image/webp", "image/heic"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
TEXT = "text/plain"
# Each kind with the endings its files have; the first is given to a name that has none of them.
ENDINGS = {
    PDF: ("pdf",),
    PNG: ("png",),
    JPEG: ("jpg", "jpeg", "jpe", "jfif"),
    WEBP: ("webp",),
    HEIC: ("heic", "heif"),
    XLSX: ("xlsx",),
    TEXT: ("txt", "csv", "tsv", "text", "md", "log", "asc"),
}
KINDS = tuple(ENDINGS)
KINDS_IN_WORDS = "a PDF, a picture (JPEG, PNG, WebP, HEIC), a spreadsheet (XLSX, CSV) or a text"

_SNIFFED = {PDF: PDF, PNG: PNG, JPEG: JPEG, WEBP: WEBP, "image/heic": HEIC, "image/heif": HEIC}
# A picture of a phone may name the container first and say behind it that it is HEIC (ISO/IEC 23008-12, 10).
_CONTAINER, _CONTAINED = b"ftypmif1", b"heic"
_PACKED = b"PK\x03\x04"
# These are found by their programs wherever they begin; by chance they stand in no file.
_OTHER_PACKERS = (b"Rar!\x1a\x07", b"7z\xbc\xaf\x27\x1c")
# The end of a PDF stands within its last 1,024 bytes (ISO 32000-1, 7.5.5, and what readers make of it).
_END_OF_PDF, _END_WITHIN_BYTES = b"%%EOF", 1024
_BEGINNING_OF_PDF = re.compile(rb"%PDF-\d")
_WHOLE_PICTURES = {PNG: png_is_whole, JPEG: jpeg_is_whole, HEIC: heic_is_whole}
_SHEET_FOLDERS = ("xl", "docProps", "_rels", "customXml", "docMetadata", "[Content_Types].xml")
_SHEET_PARTS = {"[Content_Types].xml", "xl/workbook.xml"}
_WITHIN = {
    Within.PROGRAM: ("file_runs", "The spreadsheet has a program in it: save a copy of its figures alone and attach that."),
    Within.MACROS: ("file_runs", "The spreadsheet has macros: save a copy without them (XLSX) and attach that."),
    Within.FILE: ("file_is_two", "The spreadsheet has another file in it: save a copy of its figures alone and attach that."),
    Within.NO_LIST: ("file_broken", "The spreadsheet's list of its parts cannot be read: save it anew and attach that."),
}


def _refused(code: str, said: str) -> Invalid:
    return Invalid(code, said, field="file")


def _not_taken() -> Invalid:
    return _refused("file_kind", f"This kind of file is not taken: attach {KINDS_IN_WORDS}.")


def kind_of(content: bytes) -> str:
    """Return which of :data:`KINDS` *content* is; raises :class:`Invalid` that says what to do instead."""
    if content.startswith(_PACKED):
        _check_sheet(content)
        return XLSX
    kind = _sniffed(content)
    if kind:
        _check_whole(kind, content)
        return kind
    text = _text_of(content)
    if text is None and content.startswith(PROGRAMS):
        raise _refused("file_runs", f"The file is a program, whatever it is called: attach {KINDS_IN_WORDS}.")
    if text is not None and is_active(text):
        raise _refused(
            "file_runs",
            "The file is a web page, an SVG drawing or a script, whatever it is called: print it to a PDF and attach that.",
        )
    _check_beginning(content)
    if text is None:
        raise _not_taken()
    return TEXT


def _check_beginning(content: bytes) -> None:
    """Refuse a PDF with something before it: its readers open it, others take it for what it begins as."""
    if not content.startswith(b"%PDF-") and _BEGINNING_OF_PDF.search(content[:_END_WITHIN_BYTES]) and b" obj" in content:
        raise _refused("file_broken", "The PDF has something before its beginning: print it to a new PDF and attach that.")


def named_as(kind: str, name: str) -> str:
    """Return *name* with an ending of its *kind*, so that nothing is run that was taken for a paper."""
    ending = name.rpartition(".")[2].lower()
    return name if ending in ENDINGS[kind] and name.lower() != ending else f"{name}.{ENDINGS[kind][0]}"


def _sniffed(content: bytes) -> str:
    """Return the kind that the first bytes say, or nothing where they say none that is taken."""
    if content[4:12] == _CONTAINER and _CONTAINED in content[16:64]:
        return HEIC
    try:
        found = puremagic.magic_string(content)
    except (puremagic.PureError, ValueError):
        return ""
    return next((_SNIFFED[one.mime_type] for one in found if one.mime_type in _SNIFFED), "")


def _check_whole(kind: str, content: bytes) -> None:
    """Refuse what is cut short, and what is something else besides."""
    if has_active_head(content) or _is_packed(content):
        what = "PDF" if kind == PDF else "picture"
        raise _refused(
            "file_is_two",
            f"The file is a {what} and a web page, script or packed folder at once: print it to a new PDF and attach that.",
        )
    if kind == PDF:
        _check_beginning(content)
    if kind == PDF and not (content.startswith(b"%PDF-") and _END_OF_PDF in content.rstrip(b"\0")[-_END_WITHIN_BYTES:]):
        raise _cut_short("PDF")
    if kind == PDF:
        check_pdf(content)
    if kind == WEBP and len(content) - 8 - int.from_bytes(content[4:8], "little") not in (0, 1):
        raise _cut_short("picture")
    if kind in _WHOLE_PICTURES and not _WHOLE_PICTURES[kind](content):
        raise _cut_short("picture")


def _cut_short(what: str) -> Invalid:
    return _refused(
        "file_broken", f"The {what} does not end as one does: save it anew, or have it sent again, and attach that."
    )  # fmt: skip


def _is_packed(content: bytes) -> bool:
    """Whether programs that unpack folders would unpack this, which most of them read from its end."""
    if any(mark in content for mark in _OTHER_PACKERS):
        return True
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            return bool(packed.infolist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return False


def _check_sheet(content: bytes) -> None:
    """Refuse a packed folder that is no spreadsheet, runs something, or holds more than it shows."""
    file = io.BytesIO(content)
    weigh(file)
    with zipfile.ZipFile(file) as packed:
        names = {part.filename for part in packed.infolist()}
        begins = min((part.header_offset for part in packed.infolist()), default=-1)
        ends = content.rfind(b"PK\x05\x06") + 22 + len(packed.comment)
        within = what_is_within(packed) if names >= _SHEET_PARTS else None
    if not names >= _SHEET_PARTS or not all(_is_part(name) for name in names):
        raise _not_taken()
    if begins != 0 or ends != len(content):
        raise _refused("file_is_two", "The spreadsheet has something else packed around it: save it anew and attach that.")
    if within is not None:
        raise _refused(*_WITHIN[within])


def _is_part(name: str) -> bool:
    """Whether a spreadsheet has parts so called, which unpack into folders of its own and nowhere else."""
    folder, *rest = name.split("/")
    return folder in _SHEET_FOLDERS and not {".", ".."} & set(rest) and not {"\\", ":", "\0"} & set(name)


def _text_of(content: bytes) -> str | None:
    """Return *content* as text in UTF-8, UTF-16 with its mark, or Windows' Latin letters; None for what is none."""
    is_wide = content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    # Nearly any bytes are letters of UTF-16, if only such as nobody has named.
    foreign = {"Cc", "Cn", "Co"} if is_wide else {"Cc"}
    for encoding in ("utf-16",) if is_wide else ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        is_text = all(one in "\t\r\n\f" or unicodedata.category(one) not in foreign for one in text)
        return text if is_text and text.strip() else None
    return None
