"""Whether a picture is whole: its parts lie behind each other as its standard says, from its first byte.

What only begins as a picture does may be anything behind that: a program, a web page, a folder.
"""

from collections.abc import Iterator

_SHORTEST_BOX = 8
# The first box says which kind it is; with a hundred kinds named it would be no longer (ISO/IEC 14496-12, 4.3).
_LONGEST_FIRST_BOX = 512
_SCAN, _END_OF_JPEG = 0xDA, b"\xff\xd9"
_PNG_BEGINS, _PNG_FRAME = 8, 12


def jpeg_is_whole(content: bytes) -> bool:
    """Whether segments follow each other up to the picture itself, and that ends (ITU-T T.81, annex B).

    Phones keep a film or remarks of their own behind the end; these are let be.
    """
    place = 2
    while content[place : place + 1] == b"\xff":
        marker = content[place + 1 : place + 2]
        if marker == b"\xff":
            place += 1  # Any number of these may stand before a marker.
            continue
        size = int.from_bytes(content[place + 2 : place + 4], "big")
        if size < 2 or not marker:
            return False
        place += 2 + size
        if marker[0] == _SCAN:
            return content.find(_END_OF_JPEG, place) >= 0
    return False


def png_is_whole(content: bytes) -> bool:
    """Whether chunks follow each other up to the one that ends it, and nothing follows that (PNG, 5.3)."""
    place, kind, first = _PNG_BEGINS, b"", True
    while kind != b"IEND" and place + _PNG_FRAME <= len(content):
        size, kind = int.from_bytes(content[place : place + 4], "big"), content[place + 4 : place + 8]
        if first and kind != b"IHDR":
            return False
        first = False
        place += _PNG_FRAME + size
    return kind == b"IEND" and place == len(content)


def heic_is_whole(content: bytes) -> bool:
    """Whether boxes follow each other to the end, a list of its pictures among them (ISO/IEC 23008-12, 6.2)."""
    if not _SHORTEST_BOX < int.from_bytes(content[:4], "big") <= _LONGEST_FIRST_BOX:
        return False
    boxes = list(_boxes(content))
    return bool(boxes) and boxes[-1][1] == len(content) and any(kind == b"meta" for kind, _end in boxes)


def _boxes(content: bytes) -> Iterator[tuple[bytes, int]]:
    """Yield the kind of each box and where it ends, until one can be none."""
    place = 0
    while place + _SHORTEST_BOX <= len(content):
        size, kind = int.from_bytes(content[place : place + 4], "big"), content[place + 4 : place + 8]
        if size == 1:
            size = int.from_bytes(content[place + 8 : place + 16], "big")
        elif size == 0:
            size = len(content) - place  # The last one goes on to the end.
        if size < _SHORTEST_BOX:
            return
        place += size
        yield kind, place
