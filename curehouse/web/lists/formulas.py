"""Formulas, and what goes into them."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from django.http import QueryDict

from curehouse.making.models import Formula, FormulaLine, Run
from curehouse.web.access import Visit
from curehouse.web.lists.table import ListOut, TableOut, wall
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.formula_cures import read_formula_cures
from curehouse.web.reading.words import UNKNOWN
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


def _cures(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    """A formula's batches as they lie over each other; days since the pour, weights in % of that at the cut."""
    formula = Formula.objects.within(visit.workshop).get_here(pk or 0, what="formula")
    cures = read_formula_cures(formula, visit.workshop, Calendar(visit.workshop, visit.at))
    headers = ("Batch", "Poured", *(f"Left on day {day}, %" for day in cures.days), "Newest weighing")
    expected = [["Expected", "", *_figures(cures.expected), ""]] if cures.expected else []
    return TableOut(
        headers, iter([*expected, *([line.name, line.note, *_figures(line.left), line.stands] for line in cures.lines)])
    )


def _figures(left: Iterable[tuple[int, str]]) -> list[Decimal | None]:
    return [None if said == UNKNOWN else Decimal(said) for _day, said in left]


_RUN_HEADERS = ("Formula", "Version", "Pour on", "Oils, g", "It is", "Announced on", "Batch", "Note")


def _runs(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    """The runs, those that are planned first."""
    rows = Run.objects.within(visit.workshop).select_related("formula", "version", "batch__formula").soonest_first()
    return TableOut(
        _RUN_HEADERS,
        (
            [
                run.formula.name,
                run.version.number,
                run.pour_on,
                run.fats_g.normalize(),
                run.get_state_display(),
                run.announced_on,
                str(run.batch) if run.batch else "",
                run.note,
            ]
            for run in rows.iterator(chunk_size=500)
        ),
    )


LISTS = (
    ListOut("formulas", "formulas", "Formulas", _formulas, Right.SEE),
    ListOut("runs", "runs", "Runs", _runs, Right.SEE),
    ListOut("formula_cures", "formulas/<int:pk>/cures", "Batches laid over each other", _cures, Right.SEE),
)
