"""How a file is to be read: what cannot be found out is said by a person."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from curehouse.common.errors import Invalid
from curehouse.common.units import GRAMS_PER
from curehouse.flows.bring_in.days import CellFault, read_moment

UNITS = GRAMS_PER
UNIT_WORDS = {
    "g": "g", "gr": "g", "gram": "g", "grams": "g", "gramm": "g", "grammes": "g", "gramos": "g",
    "gm": "g", "gms": "g", "grs": "g", "gramme": "g", "gramo": "g", "grammi": "g", "grammo": "g", "gramów": "g",
    "kg": "kg", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg", "kilogramm": "kg",
    "kgs": "kg", "kilogramme": "kg", "kilogrammes": "kg", "kilogramo": "kg", "kilogramos": "kg", "chilo": "kg", "chili": "kg",
    "chilogrammo": "kg", "chilogrammi": "kg", "kilogramów": "kg",
    "oz": "oz", "ounce": "oz", "ounces": "oz", "unze": "oz", "unzen": "oz",
    "ozs": "oz", "once": "oz", "onces": "oz", "onza": "oz", "onzas": "oz", "oncia": "oz",
    "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb",
}  # fmt: skip
LONGEST_FORMULA = 120
DATE_ORDERS = {"": "year first only, 2026-03-09", "dmy": "day first, 09.03.2026", "mdy": "month first, 03/09/2026"}
DECIMALS = {"": "as the figures show", ".": "a point, 118.6", ",": "a comma, 118,6"}
# How a table is opened, as people know it.
DELIMITER_WORDS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
ENCODING_WORDS = {
    "utf-8": "UTF-8, all languages", "utf-16": "UTF-16", "windows-1252": "Windows-1252, Western Europe",
    "windows-1250": "Windows-1250, Central Europe", "iso-8859-2": "ISO 8859-2 (Latin-2), Central Europe",
    "windows-1251": "Windows-1251, Cyrillic", "windows-1253": "Windows-1253, Greek", "windows-1254": "Windows-1254, Turkish",
    "iso-8859-15": "ISO 8859-15 (Latin-9), Western Europe", "mac-roman": "Mac Roman, of old Macs",
}  # fmt: skip
SHARES = {"": "as the figures show", "fraction": "a part of one, 0.31", "percent": "per cent, 31"}


@dataclass(frozen=True, slots=True)
class TableOptions:
    """How one table is read, and which column (by its index) is what."""

    sheet: str = ""
    delimiter: str = ""
    encoding: str = ""
    header_row: int | None = None
    # A person said which row that is, or that there is none; otherwise it was found out.
    row_is_said: bool = False
    columns: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Options:
    """How a file is read; ``beside`` is how the table that goes with it is."""

    table: TableOptions = TableOptions()
    beside: TableOptions | None = None
    date_order: str = ""
    decimal: str = ""
    unit: str = "g"
    share_in: str = ""
    water_share: str = ""
    formula: str = ""
    still_curing: bool = False
    with_unweighed: bool = False
    # A day, which stands for its morning, or a day with a time; ISO 8601, on the workshop's clock.
    as_of: str = ""

    def __post_init__(self) -> None:
        for name, allowed, what in (
            ("date_order", DATE_ORDERS, "The order of day and month"),
            ("decimal", DECIMALS, "The decimal mark"),
            ("unit", UNITS, "The unit of weights"),
            ("share_in", SHARES, "How water shares are written"),
        ):
            if getattr(self, name) not in allowed:
                said = ", ".join(key or "nothing" for key in allowed)
                raise Invalid(name, f"{what} is one of: {said}.", field=name)

        if self.as_of:
            _check_as_of(self.as_of)
        if len(self.formula) > LONGEST_FORMULA:
            said = f"The formula's name has {len(self.formula)} characters: keep it to {LONGEST_FORMULA}."
            raise Invalid("formula", said, field="formula")

    def to_json(self) -> dict[str, Any]:
        """Return the options as they are kept."""
        return asdict(self)

    def with_columns(self, columns: Mapping[int, str], beside: Mapping[int, str] | None = None) -> "Options":
        """Return the options with what the columns are."""
        second = self.beside if beside is None or self.beside is None else replace(self.beside, columns=dict(beside))
        return replace(self, table=replace(self.table, columns=dict(columns)), beside=second)


def _check_as_of(as_of: str) -> None:
    try:
        read_moment(as_of, "")
    except CellFault as fault:
        raise Invalid("as_of", f"The day of the stock list, “{as_of[:40]}”, {fault}.", field="as_of") from fault


def _table(kept: Mapping[str, Any]) -> TableOptions:
    columns = {int(index): key for index, key in kept.get("columns", {}).items()}
    return TableOptions(**{**kept, "columns": columns})


def options_of(kept: Mapping[str, Any]) -> Options:
    """Return options from what was kept by :meth:`Options.to_json`."""
    beside = kept.get("beside")
    return Options(**{**kept, "table": _table(kept["table"]), "beside": None if beside is None else _table(beside)})
