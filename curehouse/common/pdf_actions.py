"""What in a PDF acts by itself: run by :mod:`curehouse.common.pdfs` as a process of its own, with the PDF on its input.

Said on the output is one word of :data:`FOUND`, and nothing where it came to no end. Looked at is every object that
stands in the file, whether its list of objects names it or not: old revisions, what is packed in object streams, and
names however they are spelt (ISO 32000-1, 7.3.5, 7.5.7, 7.5.8). Each is read by its own tokens (``pdf_tokens.py``);
pypdf, told to be strict, reads the lists, unlocks and unpacks, and whatever it mends counts as broken, for another
reader mends it otherwise. The limits are set before a byte is read.
"""

import io
import logging
import re
import resource
import sys
from collections import defaultdict
from collections.abc import Iterator
from contextlib import suppress
from typing import Any
from xml.parsers import expat

from pypdf import PdfReader
from pypdf.errors import DependencyError, PyPdfError
from pypdf.generic import ArrayObject, DictionaryObject, PdfObject, StreamObject, read_object

from curehouse.common.pdf_tokens import Malformed, Name, Ref, names_in, read, tokens, unescaped, word_after

NOTHING, ACTS, HOLDS_FILE, LOCKED, BROKEN = FOUND = ("nothing", "acts", "holds-file", "locked", "broken")
CPU_SECONDS = 5
_MEMORY_BYTES = 768 * 2**20
# What is unpacked of all streams but pictures together; those of a paper of 10 MB hold less.
_MOST_UNPACKED_BYTES = 64 * 2**20
# Whatever a malformed file makes the library stumble over says the same: this is not to be read.
_STUMBLES = (Malformed, PyPdfError, ValueError, TypeError, KeyError, IndexError, AttributeError, AssertionError,
             NotImplementedError, RecursionError, MemoryError, OverflowError, ArithmeticError, OSError,
             EOFError)  # fmt: skip
# What the library says of a file that every reader reads alike.
_HARMLESS = ("Superfluous whitespace", "Duplicate %%EOF", "startxref on same line", "EOF marker not at start")

# Actions but those that go to a place in the paper itself, or to an address once somebody follows it (12.6.4).
_ACTIONS = {"/JavaScript", "/Launch", "/SubmitForm", "/ImportData", "/ResetForm", "/Rendition", "/Movie", "/Sound",
            "/RichMediaExecute", "/GoToE", "/GoToR", "/GoTo3DView", "/SetOCGState"}  # fmt: skip
# Keys beneath which a program stands, or that hang one on a form or a page (12.6.3, 12.6.4.16, 12.7.8).
_ACTING_KEYS = {"/JS", "/JavaScript", "/XFA", "/RichMediaContent", "/RichMediaSettings"}
_ACTING_NOTES = {"/RichMedia", "/3D", "/Movie", "/Sound", "/Screen"}
# Names that stand for nothing else, wherever they stand.
_ACTING_NAMES = {"/JavaScript", "/Launch", "/SubmitForm", "/ImportData", "/GoToE", "/GoToR", "/RichMedia",
                 "/RichMediaExecute", "/RichMediaContent", "/RichMediaSettings"}  # fmt: skip
_SPELT = re.compile(rb"/(?:JavaScript|Launch|SubmitForm|ImportData|GoTo[ER]|RichMedia)")
_SPELT_ODDLY = re.compile(rb"/[^\0\t\n\f\r ()<>\[\]{}/%#]*#[0-9A-Fa-f]{2}[^\0\t\n\f\r ()<>\[\]{}/%]*")
# A stream that says so stands in another file (7.3.8.2, 8.10.4, 14.11.7).
_ELSEWHERE = {"/F", "/FFilter", "/FDecodeParms", "/Ref", "/OPI"}
_FILE_KINDS = {"/FileAttachment"}
_FILE_KEYS = {"/Collection", "/RF"}
_ACTING_ADDRESS = re.compile(rb"[\0-\x20\xef\xbb\xbf\xfe\xff]*(?:file|javascript|vbscript|data):", re.IGNORECASE)
_ACTING_XML = {"html", "svg", "script", "stylesheet", "transform"}

_OBJECT, _TRAILER = re.compile(rb"(?<!end)obj(?=[\s\0<\[(/%])"), re.compile(rb"trailer(?=[\s\0<%])")
_NUMBERED = re.compile(rb"(\d{1,10})[\s\0]+(\d{1,5})[\s\0]+\Z")
_LISTED = re.compile(rb"[\s\0]*(\d{1,10})[\s\0]+\d{1,5}[\s\0]+obj")
_LONGEST_NUMBERS = 40


class _Found(Exception):
    """Ends the looking with the word for what was found."""

    def __init__(self, word: str) -> None:
        super().__init__(word)
        self.word = word


class _Mended(logging.Handler):
    """Hears of what the library mended."""

    mended = False

    def emit(self, record: logging.LogRecord) -> None:
        """Note it, unless every reader reads it alike."""
        self.mended = self.mended or not record.getMessage().startswith(_HARMLESS)


def look_through(content: bytes) -> str:
    """Return the word of :data:`FOUND` for a PDF; what cannot be read to its end is ``broken``."""
    library, mended = logging.getLogger("pypdf"), _Mended(logging.WARNING)
    library.addHandler(mended)
    library.propagate = False
    try:
        content = content.rstrip(b"\0")
        reader = PdfReader(io.BytesIO(content), strict=True)
        if reader.is_encrypted and not reader.decrypt(""):
            return LOCKED
        _Looking(content, reader).through_all()
        if not reader.pages or mended.mended:
            return BROKEN
    except _Found as found:
        return found.word
    except DependencyError:
        # Of the ways to lock it knows the older ones.
        return LOCKED
    except _STUMBLES:
        return BROKEN
    finally:
        library.removeHandler(mended)
        library.propagate = True
    return NOTHING


def _is_plain_xml(data: bytes) -> bool:
    """Whether this is XML that holds figures: no page, drawing, script or rule for showing it, and nothing to fetch."""
    parser = expat.ParserCreate(namespace_separator=" ")

    def refuse(*_said: Any) -> None:
        raise ValueError("acts")

    def begin(name: str, _attributes: Any) -> None:
        if name.rpartition(" ")[2].lower() in _ACTING_XML:
            refuse()

    parser.StartElementHandler, parser.StartDoctypeDeclHandler, parser.ProcessingInstructionHandler = begin, refuse, refuse
    try:
        parser.Parse(data, True)  # noqa: FBT003  (it takes no names)
    except (expat.ExpatError, ValueError):
        return False
    return True


class _Looking:
    """Goes through the objects of a file, and keeps what is judged once all are known."""

    def __init__(self, content: bytes, reader: PdfReader) -> None:
        self._content, self._reader, self._file = content, reader, io.BytesIO(content)
        self._left_bytes = _MOST_UNPACKED_BYTES
        # By its number each object as often as it is written, and whether its stream is plain XML.
        self._objects: dict[int, list[Any]] = defaultdict(list)
        self._plain_xml: dict[int, list[bool]] = defaultdict(list)
        self._packs: set[int] = set()
        self._openings: list[Any] = []
        self._addresses: list[Any] = []
        self._files: list[dict[str, Any]] = []
        self._locks: set[str] = set()

    def through_all(self) -> None:
        """Look at whatever stands in the file, then at what leads from one object to another."""
        for found in _TRAILER.finditer(self._content):
            if word_after(self._content, found.end()) == b"":
                self._check(read(self._content, found.end())[0])
        for found in _OBJECT.finditer(self._content):
            numbered = _NUMBERED.search(self._content[max(0, found.start() - _LONGEST_NUMBERS) : found.start()])
            try:
                self._object(found.end(), int(numbered[1]) if numbered else -1, int(numbered[2]) if numbered else 0)
            except _STUMBLES:
                # The word alone stands within a picture by chance, too.
                if numbered:
                    raise
        _check_lists(self._content, self._reader, self._packs)
        self._check_locks()
        self._check_files()
        for one in self._meant(self._openings):
            # Going to a place in it as it is opened is what many printers have written (12.6.4.2).
            if isinstance(one, dict) and (one.get("/S") != "/GoTo" or "/Next" in one):
                raise _Found(ACTS)
        for one in self._meant(self._addresses):
            _check_address(one.get("/Base") if isinstance(one, dict) else one)

    def _object(self, place: int, number: int, generation: int) -> None:
        value, end = read(self._content, place)
        word = word_after(self._content, end) if self._content[end : end + 1] else b""
        is_stream = isinstance(value, dict) and word == b"stream"
        if not is_stream and word != b"endobj":
            raise Malformed("an object without its end")
        self._objects[number].append(value)
        self._check(value)
        if self._reader.is_encrypted:
            _check_unlocked(self._unlocked(place, number, generation))
        if is_stream:
            self._stream(place, number, generation, value)

    def _stream(self, place: int, number: int, generation: int, said: dict[str, Any]) -> None:
        packs = said.get("/Type") == "/ObjStm" or {"/N", "/First"} <= said.keys()
        if said.keys() & _ELSEWHERE:
            raise _Found(ACTS)
        if said.get("/Type") == "/XRef" or (said.get("/Subtype") == "/Image" and not packs):
            return
        if self._reader.is_encrypted and said.get("/Type") == "/Metadata" and not packs:
            # These may be left unlocked; no reader takes one for anything but words.
            return
        data = self._unpacked(place, number, generation)
        _check_spelling(data)
        self._plain_xml[number].append(_is_plain_xml(data) if b"<" in data[:64] else False)
        if packs:
            self._packs.add(number)
            self._pack(data + b" ", said)

    def _unpacked(self, place: int, number: int, generation: int) -> bytes:
        stream = self._unlocked(place, number, generation)
        if not isinstance(stream, StreamObject):
            raise Malformed("a stream that is none to others")
        data = bytes(stream.get_data())
        self._left_bytes -= len(data)
        if self._left_bytes < 0:
            raise _Found(BROKEN)
        return data

    def _unlocked(self, place: int, number: int, generation: int) -> PdfObject:
        self._file.seek(next(end - len(said) for _kind, said, end in tokens(self._content, place)))
        one = read_object(self._file, self._reader)
        lock = self._reader._encryption
        return one if lock is None else lock.decrypt_object(one, number, generation, strict=True)

    def _pack(self, data: bytes, said: dict[str, Any]) -> None:
        """Look at the objects of an object stream, by the places its own head gives."""
        first, count = said.get("/First"), said.get("/N")
        if not (type(first) is int and type(count) is int and 0 <= first <= len(data) and 0 <= count <= len(data)):
            raise Malformed("an object stream that does not say what it holds")
        head = data[:first].split()
        if len(head) < 2 * count:
            raise Malformed("a head that is cut short")
        for number, place in zip(head[: 2 * count : 2], head[1 : 2 * count : 2], strict=True):
            value, _end = read(data, first + int(place))
            self._objects[int(number)].append(value)
            self._check(value)

    def _check(self, value: Any) -> None:
        for part in _within(value):
            if isinstance(part, dict):
                _check_dictionary(part)
                self._keep(part)
            elif part in _ACTING_NAMES:
                raise _Found(ACTS)

    def _keep(self, part: dict[str, Any]) -> None:
        if "/OpenAction" in part:
            self._openings.append(part["/OpenAction"])
        if "/URI" in part:
            self._addresses.append(part["/URI"])
        if "/EF" in part:
            self._files.append(part)
        if "/Root" in part:
            self._locks.add(repr(part.get("/Encrypt")))

    def _meant(self, values: list[Any]) -> Iterator[Any]:
        """Yield the values, and of those that stand elsewhere whatever is written under their number."""
        for value in values:
            for one in self._objects[value] if isinstance(value, Ref) else [value]:
                if isinstance(one, Ref):
                    raise Malformed("a reference to a reference")
                yield one

    def _check_locks(self) -> None:
        if self._locks - {"None"} and not (self._reader.is_encrypted and len(self._locks) == 1):
            raise _Found(LOCKED)
        if self._reader.is_encrypted:
            (lock,) = self._locks
            if not lock.isdigit() or len(self._objects[int(lock)]) != 1:
                raise _Found(LOCKED)

    def _check_files(self) -> None:
        """Let through what a bill holds as data: XML with figures in it, called so (common practice: EN 16931)."""
        for spec in self._files:
            names = [spec[key] for key in ("/F", "/UF") if key in spec]
            holds = list(self._meant([spec["/EF"]]))
            streams = [one for held in holds for one in (held.values() if isinstance(held, dict) else [None])]
            if self._reader.is_encrypted or not (names and streams and all(map(_is_called_xml, names))):
                raise _Found(HOLDS_FILE)
            if not all(isinstance(one, Ref) and self._plain_xml[one] and all(self._plain_xml[one]) for one in streams):
                raise _Found(HOLDS_FILE)
        for number, values in self._objects.items():
            kinds = {one.get("/Type") for one in values if isinstance(one, dict)}
            if "/EmbeddedFile" in kinds and not (self._plain_xml[number] and all(self._plain_xml[number])):
                raise _Found(HOLDS_FILE)


def _check_unlocked(one: PdfObject) -> None:
    """Look at the addresses of what was locked, whose letters nobody sees before."""
    waiting: list[Any] = [one]
    _check_address(getattr(one, "original_bytes", None))
    while waiting:
        here = waiting.pop()
        if isinstance(here, DictionaryObject):
            said = {key: here.raw_get(key) for key in here}
            waiting += said.values()
            for key in ("/URI", "/Base"):
                _check_address(getattr(said.get(key), "original_bytes", None))
        elif isinstance(here, ArrayObject):
            waiting += list.__iter__(here)


def _check_lists(content: bytes, reader: PdfReader, packs: set[int]) -> None:
    """Refuse lists of objects that lead elsewhere than to what was looked at."""
    for numbers in reader.xref.values():
        for number, place in numbers.items():
            found = _LISTED.match(content, place)
            if found is None or int(found[1]) != number:
                raise _Found(BROKEN)
    if any(pack not in packs for pack, _index in reader.xref_objStm.values()):
        raise _Found(BROKEN)


def _is_called_xml(name: Any) -> bool:
    return isinstance(name, bytes) and name.replace(b"\0", b"").lower().endswith(b".xml")


def _within(value: Any) -> Iterator[Any]:
    """Yield the dictionaries and names of an object, without following what it refers to."""
    waiting = [value]
    while waiting:
        here = waiting.pop()
        if isinstance(here, dict):
            yield here
            waiting += [*here.keys(), *here.values()]
        elif isinstance(here, list):
            waiting += here
        elif isinstance(here, Name):
            yield here


def _check_dictionary(said: dict[str, Any]) -> None:
    if any(isinstance(said.get(key), Ref) for key in ("/S", "/Type", "/Subtype")):
        # Nobody writes it so but to hide it.
        raise _Found(BROKEN)
    kinds = {said.get(key) for key in ("/Type", "/Subtype") if isinstance(said.get(key), Name)}
    if said.keys() & _FILE_KEYS or kinds & _FILE_KINDS:
        raise _Found(HOLDS_FILE)
    action = said.get("/S") if isinstance(said.get("/S"), Name) else ""
    if said.keys() & _ACTING_KEYS or kinds & _ACTING_NOTES or action in _ACTIONS or said.get("/AA"):
        raise _Found(ACTS)
    if action == "/Thread" and "/F" in said:
        raise _Found(ACTS)


def _check_spelling(data: bytes) -> None:
    """Refuse an acting name outside strings in what is unpacked, whatever a reader takes that for."""
    is_spelt = _SPELT.search(data) or any(unescaped(one[0]) in _ACTING_NAMES for one in _SPELT_ODDLY.finditer(data))
    if is_spelt and any(name in _ACTING_NAMES for name in names_in(data)):
        raise _Found(ACTS)


def _check_address(address: Any) -> None:
    if isinstance(address, bytes) and _ACTING_ADDRESS.match(re.sub(rb"[\0\t\r\n]", b"", address)):
        raise _Found(ACTS)


def main() -> None:
    """Look through what stands on the input, within the limits."""
    for what, most in ((resource.RLIMIT_CPU, CPU_SECONDS), (resource.RLIMIT_AS, _MEMORY_BYTES), (resource.RLIMIT_CORE, 0)):
        # Not every system has each of them; the time that is waited for an answer is limited besides.
        with suppress(ValueError, OSError):
            resource.setrlimit(what, (most, most))
    sys.stdout.write(look_through(sys.stdin.buffer.read()))
