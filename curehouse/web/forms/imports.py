"""The forms by which a spreadsheet comes in: the file, and what its columns are."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from django import forms
from django.core.files.uploadedfile import TemporaryUploadedFile

from curehouse.common.tables import MOST_BYTES, Layout
from curehouse.flows.bring_in.door import FileGiven, Shown
from curehouse.flows.bring_in.header_units import FIGURES, MASSES, Holds
from curehouse.flows.bring_in.kinds import KINDS
from curehouse.flows.bring_in.options import (
    DATE_ORDERS,
    DECIMALS,
    SHARES,
    UNITS,
    Options,
)
from curehouse.flows.bring_in.outcome import shown_value
from curehouse.web.forms.fields import HouseForm, required
from curehouse.web.forms.import_opening import OpeningForm

LEFT_OUT = "leave it out"
_EITHER_FIRST = re.compile(r"\d{1,2}[./-]\d{1,2}[./-]\d{4}")
# What is asked of a file by what its columns can hold.
_ASKED_OF = {
    "decimal": FIGURES, "date_order": {Holds.DAY}, "unit": MASSES, "share_in": {Holds.BAR_SHARE},
}  # fmt: skip
_OF_BATCHES = ("formula", "water_share", "still_curing", "with_unweighed")
_MEGABYTES = MOST_BYTES // 2**20


class TableFileField(forms.FileField):
    """A table to be read: where it lies, and what it is called."""

    def __init__(self, *, what: str, remedy: str, **kwargs: Any) -> None:
        messages = {"empty": f"{what} is empty: choose it again.", **required(what, remedy)}
        super().__init__(error_messages=messages, **kwargs)
        self.widget.attrs |= {"accept": ".csv,.tsv,.txt,.xlsx"}

    def clean(self, data: Any, initial: Any = None) -> FileGiven | None:
        """Return the file where it was kept while the request was read."""
        kept = super().clean(data, initial)
        if not isinstance(kept, TemporaryUploadedFile):
            return None
        return FileGiven(kept.name or "table", Path(kept.temporary_file_path()))


class FileForm(HouseForm):
    """A spreadsheet, and what it holds."""

    kind = forms.ChoiceField(
        label="What it holds",
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose what the file holds from the list."}
        | required("What the file holds", "choose it"),
    )
    file = TableFileField(
        what="The file",
        remedy="choose it",
        label="The file",
        help_text=f"CSV or XLSX, up to {_MEGABYTES} MB. Nothing comes in before you have seen what would.",
    )
    beside = TableFileField(
        what="The second file",
        remedy="choose it",
        required=False,
        label="A second file with cut dates",
        help_text="Only where the weighings count days and the dates of the cuts stand elsewhere.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [(kind.key, f"{kind.label}. {kind.hint}") for kind in KINDS.values()]
        if len(KINDS) == 1:
            self.fields["kind"].initial = next(iter(KINDS))

    def clean(self) -> dict[str, Any]:
        """Refuse a second file where the kind knows none."""
        values = super().clean() or {}
        kind = KINDS.get(values.get("kind", ""))
        if kind is not None and values.get("beside") and not kind.beside:
            self.add_error("beside", f"{kind.label} come in from one file: leave the second out.")
        return values


def _name(table: int, index: int) -> str:
    return f"column_{table}_{index}"


class ColumnsForm(OpeningForm):
    """What each column of a file is, how figures and days are written in it, and how it is opened."""

    sheet = forms.ChoiceField(label="Sheet", required=False)
    decimal = forms.ChoiceField(label="Decimals stand behind", choices=list(DECIMALS.items()), required=False)
    date_order = forms.ChoiceField(label="Dates are written", choices=list(DATE_ORDERS.items()), required=False)
    unit = forms.ChoiceField(
        label="Weights without a unit are in", choices=[(unit, unit) for unit in UNITS],
        error_messages=required("The unit of weights", "choose it"),
    )  # fmt: skip
    share_in = forms.ChoiceField(label="Water shares are written", choices=list(SHARES.items()), required=False)
    formula = forms.CharField(
        label="One formula for all batches", required=False, max_length=120, help_text="Where no column names it."
    )
    water_share = forms.CharField(
        label="One water share for all batches", required=False, max_length=20, help_text="Where no column holds it, like 31 %."
    )
    still_curing = forms.BooleanField(
        label="These batches still cure",
        required=False,
        help_text="Otherwise a batch last weighed over 30 days ago comes in as closed.",
    )
    with_unweighed = forms.BooleanField(label="Bring in batches without a weighing too", required=False)

    as_of = forms.CharField(
        label="The list tells what was there on",
        required=False,
        max_length=40,
        help_text="A day, like 2026-11-28, stands for its morning; or a day and a time, 2026-11-28 18:00. Empty: this morning. "
        "What was used from then on comes off, what was used before was lacking already.",
    )

    def __init__(self, *args: Any, options: Options, tables: Sequence[Shown], has_batches: bool, **kwargs: Any) -> None:
        now = {name: getattr(options, name) for name in (*_ASKED_OF, *_OF_BATCHES, "as_of")}
        super().__init__(*args, initial={**now, "sheet": options.table.sheet}, **kwargs)
        self._options, self._tables = options, tables
        sheets = tables[0].layout.sheets
        self.fields["sheet"].choices = [(sheet, sheet) for sheet in sheets]
        if len(sheets) < 2:
            del self.fields["sheet"]
        held = {column.holds for table in tables for column in table.columns}
        for name, asked_of in _ASKED_OF.items():
            if not held & asked_of:
                del self.fields[name]
        if not has_batches:
            for name in _OF_BATCHES:
                del self.fields[name]
        if not any(column.key == "received_on" for column in tables[0].columns):
            del self.fields["as_of"]
        for number, table in enumerate(tables):
            self._add_columns(number, table, self.named_columns(number))
            self._add_opening(number, table.layout)

    def named_columns(self, number: int) -> Mapping[int, str]:
        """Return what the columns of a table were said or found to be; those left out are not among them."""
        said = self._options.table if number == 0 else self._options.beside
        return {} if said is None else {index: key for index, key in said.columns.items() if key}

    def _add_columns(self, number: int, table: Shown, said: Mapping[int, str]) -> None:
        choices = [("", LEFT_OUT), *((column.key, column.label) for column in table.columns)]
        for index, header in enumerate(table.layout.headers):
            values = ", ".join(shown_value(cell) for cell in table.examples[index])
            self.fields[_name(number, index)] = forms.ChoiceField(
                label=header,
                choices=choices,
                required=False,
                initial=said.get(index, ""),
                help_text=values or "nothing in it",
                error_messages={"invalid_choice": f"“{header}”: choose what it is from the list."},
            )

    def columns_of(self, number: int) -> list[Any]:
        """Return the bound fields of one table's columns, for the page."""
        return [self[_name(number, index)] for index in range(len(self._tables[number].layout.headers))]

    @property
    def tables(self) -> list[list[Any]]:
        """Return the columns of each table."""
        return [self.columns_of(number) for number in range(len(self._tables))]

    @property
    def how(self) -> list[Any]:
        """Return the fields that say how the file is written."""
        return [self[name] for name in ("sheet", "as_of", *_ASKED_OF) if name in self.fields]

    @property
    def rest(self) -> list[Any]:
        """Return the fields that say what holds for all batches."""
        return [self[name] for name in _OF_BATCHES if name in self.fields]

    def clean(self) -> dict[str, Any]:
        """Refuse two columns that are said to be one thing; of a file that is opened otherwise they are found anew."""
        values = super().clean() or {}
        if self.opened_otherwise:
            # What its first row is is asked once its letters and columns are right.
            for number in range(len(self._tables)):
                self.errors.pop(f"first_row_{number}", None)
            return values
        for number, table in enumerate(self._tables):
            taken: dict[str, str] = {}
            for index, header in enumerate(table.layout.headers):
                key = values.get(_name(number, index), "")
                if key and key in taken:
                    label = next(column.label for column in table.columns if column.key == key)
                    said = f"“{header}” and “{taken[key]}” are both said to be “{label}”: leave one of them out."
                    self.add_error(_name(number, index), said)
                taken.setdefault(key, header)
        shown = self._day_or_month(values)
        if shown and not values.get("date_order"):
            said = f"“{shown}” can be read day first or month first: choose how dates are written in this file."
            self.add_error("date_order", said)
        return values

    def _day_or_month(self, values: Mapping[str, Any]) -> str:
        """Return a date of the file that can be read both ways, or nothing."""
        for number, table in enumerate(self._tables):
            holds = {column.key: column.holds for column in table.columns}
            for index, cells in enumerate(table.examples):
                if holds.get(values.get(_name(number, index), "")) is Holds.DAY:
                    for cell in cells:
                        if isinstance(cell, str) and _EITHER_FIRST.match(cell):
                            return shown_value(cell)
        return ""

    def options(self) -> Options:
        """Return how the file is to be read; the columns of one that is opened otherwise are still to be found."""
        values = self.cleaned_data
        told = {name: values[name] for name in _ASKED_OF if name in values}
        told |= {name: values[name].strip() for name in ("formula", "water_share", "as_of") if name in self.fields}
        told |= {name: values[name] for name in ("still_curing", "with_unweighed") if name in self.fields}
        if self.opened_otherwise:
            tables = [replace(self._opened(number), columns=self._kept(number)) for number in range(len(self._tables))]
        else:
            said = [_said(values, number, table.layout) for number, table in enumerate(self._tables)]
            tables = [replace(self._opened(number), columns=columns) for number, columns in enumerate(said)]
        return replace(self._options, **told, table=tables[0], beside=tables[1] if len(tables) > 1 else None)

    def _kept(self, number: int) -> dict[int, str]:
        """Return the columns that were named together with the word that the first row is data: they stay where they are."""
        layout, now = self._tables[number].layout, self._opened(number)
        is_same = (now.sheet, now.encoding, now.delimiter) == (layout.sheet, layout.encoding, layout.delimiter)
        was_named = any(name.startswith(f"column_{number}_") for name in self.changed_data)
        return _said(self.cleaned_data, number, layout) if is_same and now.header_row == 0 and was_named else {}


def _said(values: Mapping[str, Any], number: int, layout: Layout) -> dict[int, str]:
    return {index: values[_name(number, index)] for index in range(len(layout.headers)) if values.get(_name(number, index))}
