"""Formulas, and what goes into them."""

from collections.abc import Iterator

from django.http import QueryDict

from curehouse.making.models import FormulaLine
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, wall
from curehouse.workshops.roles import Right

_HEADERS = (
    "Formula", "Version", "Written", "Fats, g", "Superfat, %", "Total liquid", "It is", "Of the lye NaOH, %",
    "Line", "Role", "Amount", "Amount is", "Goes in", "Note",
)  # fmt: skip


def _formulas(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    """The lines of the versions in force; one row a line."""
    return TableOut(_HEADERS, _lines(visit))


def _lines(visit: Visit) -> Iterator[list[object]]:
    rows = FormulaLine.objects.within(visit.workshop).of_versions_in_force()
    for line in rows.iterator(chunk_size=500):
        version = line.version
        in_grams = version.liquid_g is not None
        yield [
            version.formula.name,
            version.number,
            wall(version.written_at, visit),
            version.fats_g.normalize(),
            (version.superfat * 100).normalize(),
            version.liquid_g.normalize() if in_grams else (version.liquid_share * 100).normalize(),
            "grams" if in_grams else "% of the fats",
            (version.naoh_share * 100).normalize(),
            line.name,
            line.get_role_display(),
            None if line.amount is None else (line.amount if line.per == "grams" else line.amount * 100).normalize(),
            "grams" if line.per == "grams" else "the rest" if line.per == "rest" else f"% {line.get_per_display()}",
            line.get_goes_in_display() if line.goes_in else "",
            version.note,
        ]


LISTS = (ListOut("formulas", "formulas", "Formulas", _formulas, Right.SEE),)
