"""The kind *batches*: a cure log, one row a weighing, with what it says of its batches."""

from dataclasses import dataclass
from datetime import timedelta

from curehouse.common.errors import Invalid
from curehouse.flows.bring_in.batch_plan import BatchPlan, Gathering
from curehouse.flows.bring_in.batch_settling import Settling
from curehouse.flows.bring_in.batch_writing import write
from curehouse.flows.bring_in.cells import Cells, decimal_shown
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.outcome import Findings, Outcome, outcome
from curehouse.flows.bring_in.table import Table, open_table
from curehouse.flows.bring_in.work import Work

# Of a batch that nobody weighed for so long the bars are gone (the house's own choice).
OVER_AFTER = timedelta(days=30)
_FIGURES = ("weight", "day", "water_share", "fats", "lye", "bars_cut")
_NAME = Column("batch", "Batch", "the name or number you gave it")
_FACTS = (
    Column("formula", "Formula"),
    Column("cut_on", "Cut on"),
    Column("poured_on", "Poured on"),
    Column("water_share", "Water share of the fresh bar", "31 % or 0.31"),
    Column("fats", "Fats that went in"),
    Column("lye", "Lye that went in"),
    Column("bars_cut", "Bars it was cut into"),
    Column("place", "Place on the racks", "as Racks names it"),
    Column("still_curing", "Still curing", "yes or no"),
    Column("note", "Note"),
)
BATCH_COLUMNS = (
    _NAME,
    Column("bar", "Sample bar"),
    Column("weight", "Weight"),
    Column("unit", "Unit of the weight"),
    Column("day", "Day since the cut"),
    Column("weighed_on", "Weighed on"),
    Column("firmness", "Firmness", "dents, gives or firm"),
    *_FACTS,
)
BESIDE_COLUMNS = (_NAME, *_FACTS)


@dataclass(slots=True)
class BatchesRead:
    """A cure log as the file has it."""

    batches: list[BatchPlan]
    findings: Findings
    rows_read: int


def _check_columns(table: Table, beside: Table | None) -> None:
    if not table.has("batch"):
        raise Invalid("columns", "Say which column names the batch: rows belong together by it.", field="columns")
    if not table.has("weight"):
        raise Invalid("columns", "Say which column holds the weights.", field="columns")
    if not table.has("day") and not table.has("weighed_on"):
        said = "Say which column tells when a bar was weighed: its day since the cut, or a date."
        raise Invalid("columns", said, field="columns")
    if beside is not None and not beside.has("batch"):
        raise Invalid("columns", "Say which column of the second table names the batch.", field="columns")


def read_batches(work: Work) -> BatchesRead:
    """Read the file, and the one beside it, without looking anything up."""
    findings, options = Findings(), work.options
    work.progress("reading", 0, 1)
    table = open_table(work.path, options.table, BATCH_COLUMNS, findings, unless_said=options.unit)
    beside = None
    if work.beside is not None and options.beside is not None:
        beside = open_table(
            work.beside, options.beside, BESIDE_COLUMNS, findings, unless_said=options.unit, name="second table"
        )  # fmt: skip
    _check_columns(table, beside)
    tables = [one for one in (table, beside) if one is not None]
    decimal = options.decimal or decimal_shown(cell for one in tables for cell in one.cells(*_FIGURES))
    gathering = Gathering(Cells(options, decimal))
    for one in tables:
        for row in one.rows:
            gathering.take(one, row, weighs=one is table)
    if gathering.without_weight:
        findings.remark(f"{gathering.without_weight} rows have no weight in them and were left out.")
    rows_read = sum(len(one.rows) for one in tables)
    return BatchesRead(list(gathering.batches.values()), findings, rows_read)


def take_in_batches(work: Work, found: BatchesRead) -> Outcome:
    """Hold what was read against the house, and write it if nothing is refused and *work* writes."""
    settling = Settling(work, found.findings, over_after=OVER_AFTER)
    settled = settling.settle(found.batches)
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds=settled.adds,
        known=settled.known,
        left_out=tuple(settled.left_out),
    )
    if work.writes and not result.refused_rows and not result.adds_nothing:
        write(work, settled)
    return result
