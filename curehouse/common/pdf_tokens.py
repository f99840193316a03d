"""The objects of a PDF as their own bytes say them (ISO 32000-1, 7.2 and 7.3), read by nobody's leniency.

Readers differ in what they make of two keys alike and of a value that is none: here both are :class:`Malformed`.
Strings and comments are passed over as wholes, and names are unescaped, so that a name is one wherever it stands.
"""

import re
from collections.abc import Iterator
from typing import Any

_DEEPEST = 200
_GAP = rb"\0\t\n\f\r "
_ENDS = rb"(?=[" + _GAP + rb"()<>\[\]{}/%]|\Z)"
_REGULAR = rb"[^" + _GAP + rb"()<>\[\]{}/%]"
_TOKEN = re.compile(
    rb"(?P<gap>(?:[" + _GAP + rb"]+|%[^\r\n]*)+)"
    rb"|(?P<name>/" + _REGULAR + rb"*)"
    rb"|(?P<ref>\d{1,10}[" + _GAP + rb"]+\d{1,5}[" + _GAP + rb"]+R" + _ENDS + rb")"
    rb"|(?P<number>[+-]?(?:\d+\.?\d*|\.\d+)" + _ENDS + rb")"
    rb"|(?P<mark><<|>>|\[|\])"
    rb"|(?P<hex><[0-9A-Fa-f" + _GAP + rb"]*>)"
    rb"|(?P<text>\()"
    rb"|(?P<word>" + _REGULAR + rb"+)"
)
_PARENTHESIS = re.compile(rb"\\.|[()]", re.DOTALL)
_ESCAPED = re.compile(rb"#([0-9A-Fa-f]{2})")
_IN_TEXT = re.compile(rb"\\([0-7]{1,3}|\r\n|.)", re.DOTALL)
_MEANT = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f", b"\r\n": b"", b"\r": b"", b"\n": b""}
_WORDS = {b"true": True, b"false": False, b"null": None}


class Malformed(Exception):
    """Not an object, or one that is read in more than one way."""


class Name(str):
    """A name with its stroke, unescaped."""

    __slots__ = ()


class Ref(int):
    """The number of an object that stands elsewhere."""


def unescaped(name: bytes) -> Name:
    """Return a name as it is meant, however it is spelt."""
    return Name((_ESCAPED.sub(lambda one: bytes([int(one[1], 16)]), name) if b"#" in name else name).decode("latin-1"))


def _letter(found: re.Match[bytes]) -> bytes:
    said = found[1]
    return bytes([int(said, 8) & 255]) if said[:1].isdigit() and said < b"8" else _MEANT.get(said, said)


def _end_of_text(content: bytes, place: int) -> int:
    depth = 1
    for found in _PARENTHESIS.finditer(content, place):
        depth += {b"(": 1, b")": -1}.get(found[0], 0)
        if not depth:
            return found.end()
    raise Malformed("a string without an end")


def tokens(content: bytes, place: int = 0) -> Iterator[tuple[str, bytes, int]]:
    """Yield kind, bytes and end of each token but gaps; raises :class:`Malformed` where there is none."""
    while place < len(content):
        found = _TOKEN.match(content, place)
        if found is None or found.lastgroup is None:
            raise Malformed(f"no token at {place}")
        begins, place = place, found.end()
        if found.lastgroup == "text":
            place = _end_of_text(content, place)
        if found.lastgroup != "gap":
            yield found.lastgroup, content[begins:place], place


def names_in(content: bytes) -> Iterator[Name]:
    """Yield the names of what may be anything, passing over strings and what is no token."""
    place = 0
    while place < len(content):
        try:
            for kind, said, end in tokens(content, place):
                place = end
                if kind == "name":
                    yield unescaped(said)
            return
        except Malformed:
            stray = _TOKEN.match(content, place)
            place = max(place + 1, stray.end() + 1 if stray else 0)


def _dictionary(items: list[Any]) -> dict[str, Any]:
    keys = items[::2]
    if len(items) % 2 or not all(isinstance(key, Name) for key in keys) or len(set(keys)) != len(keys):
        raise Malformed("a dictionary of other than keys, each once, and values")
    return dict(zip(keys, items[1::2], strict=True))


def _plain(kind: str, said: bytes) -> Any:
    if kind == "name":
        return unescaped(said)
    if kind == "ref":
        return Ref(said.split()[0])
    if kind == "number":
        return int(said) if b"." not in said else float(said)
    if kind == "hex":
        digits = b"".join(said[1:-1].replace(b"\0", b"").split())
        return bytes.fromhex((digits + b"0" * (len(digits) % 2)).decode())
    if kind == "text":
        return _IN_TEXT.sub(_letter, said[1:-1])
    if said not in _WORDS:
        raise Malformed(f"a word that is no value: {said[:20]!r}")
    return _WORDS[said]


def read(content: bytes, place: int) -> tuple[Any, int]:
    """Return the object at *place* and where it ends: names, refs, numbers, bytes, lists and dictionaries of them."""
    open_ones: list[tuple[bytes, list[Any]]] = []
    for kind, said, end in tokens(content, place):
        if kind == "mark" and said in (b"<<", b"["):
            open_ones.append((said, []))
            if len(open_ones) > _DEEPEST:
                raise Malformed("deeper than any paper")
            continue
        if kind == "mark":
            if not open_ones or open_ones[-1][0] != {b">>": b"<<", b"]": b"["}[said]:
                raise Malformed("an end without a beginning")
            begun, items = open_ones.pop()
            value: Any = items if begun == b"[" else _dictionary(items)
        else:
            value = _plain(kind, said)
        if not open_ones:
            return value, end
        open_ones[-1][1].append(value)
    raise Malformed("no object")


def word_after(content: bytes, place: int) -> bytes:
    """Return the word that stands at *place* behind gaps, or nothing."""
    for kind, said, _end in tokens(content, place):
        return said if kind == "word" else b""
    return b""
