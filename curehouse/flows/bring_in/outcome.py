"""What checking a file came to."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

MOST_LISTED = 1000
_MOST_REMARKS = 50
_MOST_LEFT_OUT = 1000
_LONGEST_VALUE = 80
_WORDS = {
    "batches": ("batch", "batches"),
    "batches that still cure": ("batch that still cures", "batches that still cure"),
    "sample bars": ("sample bar", "sample bars"),
    "weighings": ("weighing", "weighings"),
    "materials": ("material", "materials"),
    "suppliers": ("supplier", "suppliers"),
    "lots": ("lot", "lots"),
    "uses": ("use", "uses"),
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
    """What is found while a file is read; of the refused rows the first thousand are listed."""

    refusals: list[Refusal] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    _rows: set[tuple[str, int]] = field(default_factory=set)
    refused: int = 0

    @property
    def refused_rows(self) -> int:
        """Return how many rows are refused, listed or not."""
        return len(self._rows)

    def refuse(self, refusal: Refusal) -> None:
        """Note that a row cannot be taken."""
        self._rows.add((refusal.table, refusal.row))
        self.refused += 1
        if len(self.refusals) < MOST_LISTED:
            self.refusals.append(refusal)

    def remark(self, text: str) -> None:
        """Note something a person should know though nothing is wrong."""
        if len(self.remarks) < _MOST_REMARKS and text not in self.remarks:
            self.remarks.append(text)


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
    return Outcome(**{**kept, **sums, **listed, "refusals": refusals})


def outcome(
    findings: Findings, *, rows_read: int, adds: Mapping[str, int], known: Mapping[str, int], left_out: tuple[str, ...] = ()
) -> Outcome:
    """Return what checking came to; with a refused row nothing is added."""
    return Outcome(
        rows_read=rows_read,
        adds=dict(adds),
        known=dict(known),
        refused_rows=findings.refused_rows,
        refusals=tuple(sorted(findings.refusals, key=lambda one: (one.table, one.row))),
        left_out=left_out[:_MOST_LEFT_OUT],
        left_out_count=len(left_out),
        remarks=tuple(findings.remarks),
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
