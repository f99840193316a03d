"""Reading a drawing back: as XML, and its texts with the room they take."""

import re
from collections.abc import Iterator
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"


def parsed(markup: str) -> ElementTree.Element:
    """Return *markup* as XML; what is not well-formed raises."""
    return ElementTree.fromstring(markup)


def with_class(root: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    """Return the elements of class *name* in the order of the drawing."""
    return [element for element in root.iter() if name in element.get("class", "").split()]


def texts(root: ElementTree.Element) -> Iterator[tuple[ElementTree.Element, str]]:
    """Yield every drawn text with its words."""
    for element in root.iter(f"{SVG}text"):
        yield element, "".join(element.itertext())


def spans(root: ElementTree.Element, size: float, em: float) -> dict[str, tuple[float, float, float]]:
    """Return left, right and baseline of every text set at *size*, a character taken as *em* wide."""
    found = {}
    for element, words in texts(root):
        if element.get("x") is None:
            continue
        x, width = float(element.get("x", "")), len(words) * em * float(element.get("font-size", size))
        left = {"end": x - width, "middle": x - width / 2}.get(element.get("text-anchor", "start"), x)
        found[words] = (left, left + width, float(element.get("y", "")))
    return found


def numbers(path: str) -> list[float]:
    """Return the numbers of a path's data."""
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", path)]
