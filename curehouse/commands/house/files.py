"""Files that commands read and write for people with files only: what is wrong with one is said in a sentence."""

import csv
import json
import math
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from curehouse.commands.house.refusal import Refused

_MOST_DAYS = 3650


def read_json(path: Path) -> Any:
    """Return what a JSON file holds, or raise Refused."""
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise Refused(f"{path} cannot be read as JSON in UTF-8: {error}.") from error


def write_json(path: Path, found: Any) -> None:
    """Write all or nothing: what cannot be finished leaves what was there, and raises Refused."""
    beside = path.with_name(f".{path.name}.new")
    try:
        beside.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise Refused(f"{path} cannot be written: {error}.") from error


def csv_rows(path: Path, columns: Sequence[str]) -> Iterator[tuple[str, dict[str, str]]]:
    """Yield where a row stands, in words, and its cells; Refused where a column or a cell of *columns* is not there."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            missing = [name for name in columns if name not in (reader.fieldnames or ())]
            if missing:
                raise Refused(f"{path} has no column {', '.join(missing)}: name it in the first row; commas part cells.")
            for row in reader:
                if any(row[name] is None for name in columns):
                    raise Refused(f"{path}, line {reader.line_num}: cells are missing at the end of the row.")
                yield f"{path}, line {reader.line_num}", row
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise Refused(f"{path} cannot be read as CSV in UTF-8: {error}.") from error


class Fields:
    """One object of the file, with where it stands; each field is asked for by what it must be."""

    def __init__(self, where: str, value: object) -> None:
        if not isinstance(value, dict):
            raise Refused(f"{where} must be names and values in braces.")
        self.where = where
        self._value = value

    def names(self) -> list[str]:
        """Return the names that stand there."""
        return list(self._value)

    def text(self, name: str) -> str:
        """Return a word, such as a key."""
        value = self._get(name)
        if not isinstance(value, str) or not value.strip():
            raise self._no(name, value, "write a name in quotes")
        return value

    def day(self, name: str) -> int:
        """Return a date as its ordinal."""
        try:
            return date.fromisoformat(self._get(name)).toordinal()
        except (TypeError, ValueError) as error:
            raise self._no(name, self._value[name], "write a date as 2026-01-31") from error

    def number(self, name: str, *, above: float = -math.inf) -> float:
        """Return a number that is greater than *above*."""
        value = self._get(name)
        if isinstance(value, bool) or not isinstance(value, int | float) or not above < value < math.inf:
            raise self._no(name, value, "write a plain number" + (f" above {above:g}" if above > -math.inf else ""))
        return value

    def grams(self, name: str) -> float:
        """Return a weight from 0 up."""
        return self.from_zero(name, "weight in grams")

    def from_zero(self, name: str, what: str = "number") -> float:
        """Return a number from 0 up; *what* says in words what it is."""
        value = self.number(name)
        if value < 0:
            raise self._no(name, value, f"write a {what} from 0 up")
        return value

    def days(self, name: str) -> int:
        """Return a whole number of days from 0 up, ten years at most."""
        value = self._get(name)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= _MOST_DAYS:
            raise self._no(name, value, f"write a whole number of days from 0 to {_MOST_DAYS}")
        return value

    def flag(self, name: str) -> bool:
        """Return true or false; false where it is left out."""
        value = self._value.get(name, False)
        if not isinstance(value, bool):
            raise self._no(name, value, "write true or false")
        return value

    def each(self, name: str) -> list["Fields"]:
        """Return the objects of a list."""
        value = self._get(name)
        if not isinstance(value, list):
            raise self._no(name, value, "write a list in square brackets")
        return [Fields(f"{self.where}, {name} {place}", one) for place, one in enumerate(value, 1)]

    def inner(self, name: str) -> "Fields":
        """Return an object within."""
        return Fields(f"{self.where}, {name}", self._get(name))

    def _get(self, name: str) -> Any:
        if name not in self._value:
            raise Refused(f"{self.where} has no “{name}”: write it there.")
        return self._value[name]

    def _no(self, name: str, value: object, instead: str) -> Refused:
        return Refused(f"{self.where}: {name} is “{value}”; {instead}.")
