"""A row of Today: a thing, where it leads, what is said of it."""

from dataclasses import dataclass

from curehouse.web.marks import Mark


@dataclass(frozen=True, slots=True)
class Row:
    """One thing on Today: ``note`` stands under its name, ``said`` under its mark."""

    name: str
    url: str
    note: str
    mark: Mark | None = None
    said: str = ""
