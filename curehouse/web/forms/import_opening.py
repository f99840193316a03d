"""How a table is opened: the part of its form that is folded away while it is opened rightly."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from curehouse.common.tables import MOST_ROWS, Layout
from curehouse.flows.bring_in.door import Shown
from curehouse.flows.bring_in.options import DELIMITER_WORDS, ENCODING_WORDS, TableOptions
from curehouse.flows.bring_in.table import FIRST_IS_DATA
from curehouse.web.forms.fields import HouseForm

_OPENED_BY = ("encoding", "delimiter", "header_row")
_NAMES, _DATA = "names", "data"
_DELIMITERS = {word: mark for mark, word in DELIMITER_WORDS.items()}


class OpeningForm(HouseForm):
    """Asks of each table how it is opened, beginning with how it is opened now."""

    _tables: Sequence[Shown]

    def _add_opening(self, number: int, layout: Layout) -> None:
        """Ask how a table is opened, as it is now, and what its first row is where nothing tells."""
        first = self._tables[number].first_row
        if first is not None:
            self.fields[f"first_row_{number}"] = forms.ChoiceField(
                label=f"Row {first.number}",
                choices=[(_NAMES, "It names the columns"), (_DATA, "It is data")],
                widget=forms.RadioSelect,
                initial=_DATA if first.is_taken_for_data else None,
                error_messages={
                    one: f"Say whether row {first.number} names the columns or is data."
                    for one in ("required", "invalid_choice")
                },
            )
        if layout.kind == "csv":
            self.fields[f"encoding_{number}"] = forms.ChoiceField(
                label="Its letters are in", choices=list(ENCODING_WORDS.items()), initial=layout.encoding
            )
            self.fields[f"delimiter_{number}"] = forms.ChoiceField(
                label="Its cells are separated by",
                choices=[(word, f"a {word}") for word in _DELIMITERS],
                initial=DELIMITER_WORDS[layout.delimiter],
            )
        self.fields[f"header_row_{number}"] = forms.IntegerField(
            label="The row that names its columns",
            min_value=0,
            max_value=MOST_ROWS,
            initial=layout.header_row,
            help_text="0 where none does: they are called Column A, Column B then.",
            error_messages={
                one: f"Say which row names the columns: a number from 0 to {MOST_ROWS:,}."
                for one in ("required", "invalid", "min_value", "max_value")
            },
        )

    def _doubt(self, number: int) -> str:
        """Return what is to be said of a table's first row, or nothing."""
        layout, first = self._tables[number].layout, self._tables[number].first_row
        if first is None:
            return ""
        if not first.is_taken_for_data:
            return f"Row {first.number} may name the columns or be data: {first.shown}. Say which it is."
        called = ", ".join(layout.headers[:2])
        return f"{FIRST_IS_DATA}, and columns are called {called}: {first.shown}."

    def named_columns(self, number: int) -> Mapping[int, str]:
        """Return what the columns of a table were said or found to be."""
        raise NotImplementedError

    @property
    def first_rows(self) -> list[dict[str, Any]]:
        """Return what is asked of first rows, so that none is lost silently: words, the field, and where else to say it."""
        return [
            {"said": said, "field": self[f"first_row_{number}"], "other": self[f"header_row_{number}"]}
            for number, said in enumerate(map(self._doubt, range(len(self._tables))))
            if said
        ]

    @property
    def opening(self) -> list[list[Any]]:
        """Return the fields that say how each table is opened."""
        names = [[f"{name}_{number}" for name in _OPENED_BY] for number in range(len(self._tables))]
        return [[self[name] for name in of_one if name in self.fields] for of_one in names]

    @property
    def shows_opening(self) -> bool:
        """Return whether how it is opened is to be looked at: letters that may be others, no row of names, a mistake."""
        layouts = [table.layout for table in self._tables]
        is_doubtful = any(layout.encoding not in ("", "utf-8", "utf-16") or not layout.header_row for layout in layouts)
        return is_doubtful or bool(self.first_rows) or any(field.errors for fields in self.opening for field in fields)

    def _opened(self, number: int) -> TableOptions:
        """Return how a table is to be opened; in another sheet the row of names is looked for anew."""
        values, table = self.cleaned_data, self._tables[number]
        layout, answer = table.layout, values.get(f"first_row_{number}", "")
        sheet = (values.get("sheet") or layout.sheet) if number == 0 else layout.sheet
        row = values.get(f"header_row_{number}", layout.header_row)
        is_said = table.row_is_said or bool(answer) or row != layout.header_row
        # A number that was typed says more than the answer beside it.
        if row == layout.header_row and answer and table.first_row is not None:
            row = table.first_row.number if answer == _NAMES else 0
        is_anew = sheet != layout.sheet and row == layout.header_row
        return TableOptions(
            sheet=sheet,
            encoding=values.get(f"encoding_{number}", layout.encoding),
            delimiter=_DELIMITERS.get(values.get(f"delimiter_{number}", ""), layout.delimiter),
            header_row=None if is_anew else row,
            row_is_said=is_said and not is_anew,
        )

    @property
    def opened_otherwise(self) -> bool:
        """Return whether the file is to be opened in another way than it is shown."""
        layouts = [table.layout for table in self._tables]
        return any(
            (now.sheet, now.encoding, now.delimiter, now.header_row)
            != (layout.sheet, layout.encoding, layout.delimiter, layout.header_row)
            for now, layout in ((self._opened(number), layout) for number, layout in enumerate(layouts))
        )
