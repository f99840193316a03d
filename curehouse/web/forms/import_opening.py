"""How a table is opened: the part of its form that is folded away while it is opened rightly."""

from collections.abc import Sequence
from typing import Any

from django import forms

from curehouse.common.tables import MOST_ROWS, Layout
from curehouse.flows.bring_in.door import Shown
from curehouse.flows.bring_in.options import DELIMITER_WORDS, ENCODING_WORDS, TableOptions
from curehouse.web.forms.fields import HouseForm

_OPENED_BY = ("encoding", "delimiter", "header_row")
_DELIMITERS = {word: mark for mark, word in DELIMITER_WORDS.items()}


class OpeningForm(HouseForm):
    """Asks of each table how it is opened, beginning with how it is opened now."""

    _tables: Sequence[Shown]

    def _add_opening(self, number: int, layout: Layout) -> None:
        """Ask how a table is opened, as it is now."""
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
        return is_doubtful or any(field.errors for fields in self.opening for field in fields)

    def _opened(self, number: int) -> TableOptions:
        """Return how a table is to be opened; in another sheet the row of names is looked for anew."""
        values, layout = self.cleaned_data, self._tables[number].layout
        sheet = (values.get("sheet") or layout.sheet) if number == 0 else layout.sheet
        row = values.get(f"header_row_{number}", layout.header_row)
        return TableOptions(
            sheet=sheet,
            encoding=values.get(f"encoding_{number}", layout.encoding),
            delimiter=_DELIMITERS.get(values.get(f"delimiter_{number}", ""), layout.delimiter),
            header_row=None if sheet != layout.sheet and row == layout.header_row else row,
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
