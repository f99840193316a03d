"""What checking a file came to."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

MOST_LISTED = 1000
_MOST_REMARKS = 50
MOST_LEFT_OUT = 1000
_LONGEST_VALUE = 80
_WORDS = {
    "batches": ("batch", "batches"),
    "batches that still cure": ("batch that still cures", "batches that still cure"),
    "sample bars": ("sample bar", "sample bars"),
    "weighings": ("weighing", "weighings"),
    "materials": ("material", "materials"),
    "figures of materials": ("material's figures", "materials' figures"),
    "formulas": ("formula", "formulas"),
    "suppliers": ("supplier", "suppliers"),
    "lots": ("lot", "lots"),
    "uses": ("use", "uses"),
    "rooms": ("room", "rooms"),
    "room readings": ("reading of a room", "readings of rooms"),
}
_ORDER = {what: place for place, what in enumerate(_WORDS)}
_SUMS = ("adds", "known")


@dataclass(frozen=True, slots=True)
class Refusal:
    """A row that cannot be taken: which, the cell, what stands there, and what to do."""

    row: int
    cell: str
    header: str
    value: str
    why: str
    table: str = ""


@dataclass(slots=True)
class Findings:
    """What is found while a file is read; of what is refused the first thousand are listed, as they stand in the file."""

    remarks: list[str] = field(default_factory=list)
    _refusals: list[Refusal] = field(default_factory=list)
    # A bit for each row of a table: a set of all that are refused would weigh more than the file.
    _rows: dict[str, bytearray] = field(default_factory=dict)
    refused_rows: int = 0

    def refuse(self, refusal: Refusal) -> None:
        """Note that a row cannot be taken."""
        rows, (place, bit) = self._rows.setdefault(refusal.table, bytearray()), divmod(refusal.row, 8)
        if len(rows) <= place:
            rows.extend(bytes(place + 1 - len(rows)))
        self.refused_rows += not rows[place] >> bit & 1
        rows[place] |= 1 << bit
        self._refusals.append(refusal)
        if len(self._refusals) >= 2 * MOST_LISTED:
            self._refusals = self.refusals

    @property
    def refusals(self) -> list[Refusal]:
        """Return the first of what is refused, in the order of the file."""
        return sorted(self._refusals, key=lambda one: (one.table, one.row))[:MOST_LISTED]

    def remark(self, text: str) -> None:
        """Note something a person should know though nothing is wrong."""
        if len(self.remarks) < _MOST_REMARKS and text not in self.remarks:
            self.remarks.append(text)


@dataclass(frozen=True, slots=True)
class AsRead:
    """The first rows as they were read, in words with their units; beneath their headers, the row's number first."""

    headers: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a file would bring, or brought: counts by what they count, and what stands against it."""

    rows_read: int
    adds: Mapping[str, int]
    known: Mapping[str, int]
    refused_rows: int
    refusals: tuple[Refusal, ...] = ()
    left_out: tuple[str, ...] = ()
    left_out_count: int = 0
    remarks: tuple[str, ...] = ()
    as_read: AsRead = AsRead()

    @property
    def adds_nothing(self) -> bool:
        """Return whether everything in the file is here already."""
        return not any(self.adds.values())

    def to_json(self) -> dict[str, Any]:
        """Return the outcome as it is kept."""
        return asdict(self)


def outcome_of(kept: Mapping[str, Any]) -> Outcome:
    """Return an outcome from what was kept by :meth:`Outcome.to_json`."""
    refusals = tuple(Refusal(**one) for one in kept["refusals"])
    # PostgreSQL keeps the keys of JSON in an order of its own.
    sums = {name: dict(sorted(kept[name].items(), key=lambda item: _ORDER.get(item[0], len(_ORDER)))) for name in _SUMS}
    listed = {"left_out": tuple(kept["left_out"]), "remarks": tuple(kept["remarks"])}
    first = kept.get("as_read", {"headers": (), "rows": ()})
    as_read = AsRead(tuple(first["headers"]), tuple(map(tuple, first["rows"])))
    return Outcome(**{**kept, **sums, **listed, "refusals": refusals, "as_read": as_read})


def outcome(
    findings: Findings,
    *,
    rows_read: int,
    adds: Mapping[str, int],
    known: Mapping[str, int],
    left_out: Sequence[str] = (),
    left_out_count: int = 0,
    as_read: AsRead = AsRead(),
) -> Outcome:
    """Return what checking came to; with a refused row nothing is added. Of what is left out not all need be named."""
    return Outcome(
        rows_read=rows_read,
        adds=dict(adds),
        known=dict(known),
        refused_rows=findings.refused_rows,
        refusals=tuple(findings.refusals),
        left_out=tuple(left_out),
        left_out_count=left_out_count,
        remarks=tuple(findings.remarks),
        as_read=as_read,
    )


def shown_value(value: object) -> str:
    """Return what stands in a cell, short enough to be shown."""
    text = "" if value is None else " ".join(str(value).split())
    text = "".join(one if one.isprintable() else "�" for one in text)
    return text if len(text) <= _LONGEST_VALUE else f"{text[:_LONGEST_VALUE]}…"


def counted(what: str, number: int) -> str:
    """Return a number of things in words: ``1 batch``, ``5,369 weighings``."""
    one, many = _WORDS.get(what, (what, what))
    return f"{number:,} {one if number == 1 else many}"
