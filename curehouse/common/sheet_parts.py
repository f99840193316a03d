"""What a spreadsheet holds beside its figures, by its list of parts and by their first bytes.

The names of parts count for nothing: a spreadsheet program finds them by that list (ECMA-376 part 2, 10.1.2).
"""

import zipfile
import zlib
from enum import Enum
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

# Of Windows and its links, Linux, Macs, Java, browsers.
PROGRAMS = (
    *(b"MZ", b"L\0\0\0\x01\x14\x02", b"\x7fELF"),
    *(b"\xcf\xfa\xed\xfe", b"\xce\xfa\xed\xfe", b"\xca\xfe\xba\xbe", b"\0asm"),
)
# What holds files of its own: packed folders, and what programs before 2007 kept, macros with them.
_HOLDERS = (b"PK\x03\x04", b"Rar!\x1a\x07", b"7z\xbc\xaf\x27\x1c", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
_CUT_SHORT = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)
_LIST = "[Content_Types].xml"
_MACRO_NAMES = ("vbaproject.bin", "macrosheets/")
_MACRO_KINDS = ("macroenabled", "vbaproject", "macrosheet", "activex")
_LONGEST_MARK = 8


class Within(Enum):
    """What makes a spreadsheet no paper."""

    PROGRAM = "program"
    MACROS = "macros"
    FILE = "file"
    NO_LIST = "no list"


def what_is_within(packed: zipfile.ZipFile) -> Within | None:
    """Return what *packed*, a spreadsheet that was weighed, holds beside its figures; None where it is nothing."""
    if any(mark in name.lower() for name in packed.namelist() for mark in _MACRO_NAMES):
        return Within.MACROS
    try:
        kinds = [str(one.get("ContentType", "")).lower() for one in fromstring(packed.read(_LIST))]
        heads = [_head(packed, part) for part in packed.infolist()]
    except (ParseError, DefusedXmlException, LookupError, ValueError, OSError, *_CUT_SHORT):
        return Within.NO_LIST
    if any(mark in kind for kind in kinds for mark in _MACRO_KINDS):
        return Within.MACROS
    if any(head.startswith(PROGRAMS) for head in heads):
        return Within.PROGRAM
    return Within.FILE if any(head.startswith(_HOLDERS) for head in heads) else None


def _head(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> bytes:
    with packed.open(part) as stream:
        return stream.read(_LONGEST_MARK)
