"""What a file is by what it holds, for the kinds that are kept and handed out again.

Neither the name nor what the sender says of the kind counts. A file must be one thing and whole: what is a
picture or a PDF and a packed folder or a web page besides is refused, for it is shown as the one and opened as
the other. First bytes are read by puremagic (pure Python, well kept; 1.30 is the last for Python 3.11).
"""

import codecs
import io
import unicodedata
import zipfile

import puremagic

from curehouse.common.active_text import has_active_head, is_active
from curehouse.common.errors import Invalid
from curehouse.common.tables.xlsx_files import weigh

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
_CONTAINER, _WITHIN = b"ftypmif1", b"heic"
# Of Windows and its links, Linux, Macs, Java, browsers.
_PROGRAMS = (
    *(b"MZ", b"L\0\0\0\x01\x14\x02", b"\x7fELF"),
    *(b"\xcf\xfa\xed\xfe", b"\xce\xfa\xed\xfe", b"\xca\xfe\xba\xbe", b"\0asm"),
)
_PACKED = b"PK\x03\x04"
# The end of a PDF stands within its last 1,024 bytes (ISO 32000-1, 7.5.5, and what readers make of it).
_END_OF_PDF, _END_WITHIN_BYTES = b"%%EOF", 1024
_END_OF_PNG = b"IEND\xaeB`\x82"
_SHEET_FOLDERS = ("xl", "docProps", "_rels", "customXml", "docMetadata", "[Content_Types].xml")
_SHEET_PARTS = {"[Content_Types].xml", "xl/workbook.xml"}
_MACROS = ("vbaproject.bin", "macrosheets/")


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
    if text is None:
        if content.startswith(_PROGRAMS):
            raise _refused("file_runs", f"The file is a program, whatever it is called: attach {KINDS_IN_WORDS}.")
        raise _not_taken()
    if is_active(text):
        raise _refused(
            "file_runs",
            "The file is a web page, an SVG drawing or a script, whatever it is called: print it to a PDF and attach that.",
        )
    return TEXT


def named_as(kind: str, name: str) -> str:
    """Return *name* with an ending of its *kind*, so that nothing is run that was taken for a paper."""
    ending = name.rpartition(".")[2].lower()
    return name if ending in ENDINGS[kind] and name.lower() != ending else f"{name}.{ENDINGS[kind][0]}"


def _sniffed(content: bytes) -> str:
    """Return the kind that the first bytes say, or nothing where they say none that is taken."""
    if content[4:12] == _CONTAINER and _WITHIN in content[16:64]:
        return HEIC
    try:
        found = puremagic.magic_string(content)
    except (puremagic.PureError, ValueError):
        return ""
    return next((_SNIFFED[one.mime_type] for one in found if one.mime_type in _SNIFFED), "")


def _check_whole(kind: str, content: bytes) -> None:
    """Refuse what is cut short, and what is something else besides."""
    if kind == PDF and not (content.startswith(b"%PDF-") and _END_OF_PDF in content.rstrip(b"\0")[-_END_WITHIN_BYTES:]):
        raise _cut_short("PDF")
    if kind == PNG and not content.endswith(_END_OF_PNG):
        raise _cut_short("picture")
    if kind == WEBP and len(content) - 8 - int.from_bytes(content[4:8], "little") not in (0, 1):
        raise _cut_short("picture")
    if has_active_head(content) or _is_packed(content):
        what = "PDF" if kind == PDF else "picture"
        raise _refused(
            "file_is_two",
            f"The file is a {what} and a web page, script or packed folder at once: print it to a new PDF and attach that.",
        )


def _cut_short(what: str) -> Invalid:
    return _refused(
        "file_broken", f"The {what} does not end as one does: save it anew, or have it sent again, and attach that."
    )  # fmt: skip


def _is_packed(content: bytes) -> bool:
    """Whether programs that unpack folders would unpack this, which they read from its end."""
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
    if not names >= _SHEET_PARTS or any(name.split("/", 1)[0] not in _SHEET_FOLDERS for name in names):
        raise _not_taken()
    if begins != 0 or ends != len(content):
        raise _refused("file_is_two", "The spreadsheet has something else packed around it: save it anew and attach that.")
    if any(mark in name.lower() for name in names for mark in _MACROS):
        raise _refused("file_runs", "The spreadsheet has macros: save a copy without them (XLSX) and attach that.")


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
