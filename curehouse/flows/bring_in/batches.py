"""The kind *batches*: a cure log, one row a weighing, with what it says of its batches."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.tables import Cell
from curehouse.flows.bring_in.as_read import batches_as_read
from curehouse.flows.bring_in.batch_plan import BatchPlan, Gathering, mark_in
from curehouse.flows.bring_in.batch_settling import SettledBatch, Settling, Tally
from curehouse.flows.bring_in.batch_stash import Laid, Stash
from curehouse.flows.bring_in.batch_writing import Writing
from curehouse.flows.bring_in.cells import Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.figures import decimal_shown
from curehouse.flows.bring_in.header_units import Holds
from curehouse.flows.bring_in.laid_aside import ROWS_HELD
from curehouse.flows.bring_in.outcome import AsRead, Findings, Outcome, counted, outcome
from curehouse.flows.bring_in.table import Table, open_table
from curehouse.flows.bring_in.work import Work

# Of a batch that nobody weighed for so long the bars are gone (the house's own choice).
OVER_AFTER = timedelta(days=30)
_FIGURES = ("weight", "day", "water_share", "fats", "lye", "koh", "bars_cut")
_NAME = Column("batch", "Batch", "the name or number you gave it")
_FACTS = (
    Column("formula", "Formula"),
    Column("cut_on", "Cut on", holds=Holds.DAY),
    Column("poured_on", "Poured on", holds=Holds.DAY),
    Column("water_share", "Water share of the fresh bar", "31 % or 0.31", Holds.BAR_SHARE),
    Column("fats", "Fats that went in", holds=Holds.MASS),
    Column("lye", "Lye that went in", "NaOH and KOH together", Holds.MASS),
    Column("koh", "KOH of the lye", "0 where it is NaOH alone", Holds.MASS),
    Column("bars_cut", "Bars it was cut into", holds=Holds.FIGURE),
    Column("place", "Place on the racks", "as Racks names it"),
    Column("still_curing", "Still curing", "yes or no"),
    Column("note", "Note"),
)
BATCH_COLUMNS = (
    _NAME,
    Column("bar", "Sample bar"),
    Column("weight", "Weight", holds=Holds.MASS),
    Column("unit", "Unit of the weight"),
    Column("day", "Day since the cut", holds=Holds.DAYS),
    Column("weighed_on", "Weighed on", holds=Holds.DAY),
    Column("firmness", "Firmness", "dents, gives or firm"),
    *_FACTS,
)
BESIDE_COLUMNS = (_NAME, *_FACTS)


@dataclass(slots=True)
class BatchesRead:
    """A cure log as the file has it: its rows by batch, its tables (the second is the one beside), how cells are read."""

    stash: Stash
    tables: tuple[Table, ...]
    findings: Findings
    cells: Cells
    rows_read: int = 0

    def lay_aside(self) -> Iterator[Cell]:
        """Lay every row aside by the batch it names; yield its figures on the way."""
        for table in self.tables:
            for row in table.rows():
                self.rows_read += 1
                mark = mark_in(self.cells, table, row)
                if mark:
                    self.stash.lay(mark, row, is_beside=table is not self.tables[0])
                yield from table.cells_of(row, _FIGURES)

    def plans(self, parts: Iterable[list[list[Laid]]], gathering: Gathering) -> Iterator[tuple[int, list[BatchPlan]]]:
        """Yield what the file says of some batches at a time, and of how many rows that was made."""
        for part in parts:
            whole = [[(self.tables[laid.is_beside], laid.row) for laid in rows] for rows in part]
            yield sum(map(len, whole)), [gathering.gather(rows) for rows in whole]

    def note_in(self, findings: Findings) -> None:
        """Let what is found from now on be noted there."""
        for table in self.tables:
            table.findings = findings


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
    tables = (table,) if beside is None else (table, beside)
    found = BatchesRead(Stash(), tables, findings, Cells(options))
    # The decimal mark is known once every figure was seen: rows are laid aside on the way, and the file is read once.
    shown = decimal_shown(found.lay_aside())
    found.cells = Cells(options, options.decimal or shown)
    return found


def take_in_batches(work: Work, found: BatchesRead) -> Outcome:
    """Hold what was read against the house, and write it if nothing is refused and *work* writes."""
    settling, gathering = _settling(work, found, found.findings), Gathering(found.cells)
    done = 0
    held: list[SettledBatch] = []
    first = AsRead()
    for rows, plans in found.plans(found.stash.by_appearance(), gathering):
        work.progress("checking", done, found.stash.rows)
        first = first if first.rows else batches_as_read(plans, BATCH_COLUMNS)
        for one in settling.settle(plans):
            found.stash.note_cut(one.plan.mark, one.cut_at)
            # Held between the check and the writing: to read a shorter file anew would cost more.
            if work.writes and found.stash.rows <= ROWS_HELD:
                held.append(one)
        done += rows
    tally = settling.tally
    _remark(found.findings, tally, gathering)
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds=tally.adds,
        known=tally.known,
        left_out=tally.left_out,
        left_out_count=tally.left_out_count,
        as_read=first,
    )
    if work.writes and not result.refused_rows and not result.adds_nothing:
        _write(work, found, settling, [one.plan for one in sorted(held, key=lambda one: one.cut_at)])
    return result


def _settling(work: Work, found: BatchesRead, findings: Findings) -> Settling:
    names_places = any(table.has("place") for table in found.tables)
    return Settling(work, findings, over_after=OVER_AFTER, names_places=names_places)


def _remark(findings: Findings, tally: Tally, gathering: Gathering) -> None:
    """Say what was taken for granted, and what is not taken over."""
    if gathering.without_weight:
        findings.remark(f"{gathering.without_weight} rows have no weight in them and were left out.")
    if gathering.light:
        others = f" So it is with {gathering.light - 1} more." if gathering.light > 1 else ""
        said = "is very light for a bar of soap. If the file counts in kg, say that weights without a unit are in kg"
        findings.remark(f"{gathering.first_light} {said}.{others}")
    if tally.cut_by_weighing:
        said = f"Of {counted('batches', tally.cut_by_weighing)} no cut date is said"
        findings.remark(f"{said}: the day of the first weighing counts as the cut.")
    if tally.doubtful_lye:
        others = f" So it is with {tally.doubtful_lye - 1} more." if tally.doubtful_lye > 1 else ""
        said = "check both in the file. What still cures goes to nobody before its safety check is passed"
        findings.remark(f"{tally.first_doubtful_lye}: {said}.{others}")
    if tally.closed:
        others = f" So it is with {tally.closed - 1} more." if tally.closed > 1 else ""
        findings.remark(f"{tally.first_closed} is closed here; that it still cures is not taken over.{others}")


def _write(work: Work, found: BatchesRead, checked: Settling, held: list[BatchPlan]) -> None:
    """Write the batches in the order in which they were cut, some at a time, or at once those that are *held*.

    They are settled once more, now that those which are here are locked: raises ``Conflict``, and all
    is as before, where somebody changed them since they were looked at.
    """
    findings = Findings()
    found.note_in(findings)
    writing, done = Writing(work, checked.here), 0
    settling = _settling(work, found, findings)
    parts = found.plans(found.stash.by_cut(), Gathering(found.cells))
    for rows, plans in [(found.stash.rows, held)] if held else parts:
        work.progress("writing", done, found.stash.rows)
        writing.write(settling.settle(plans))
        done += rows
    was, now = checked.tally, settling.tally
    if findings.refused_rows or (was.adds, was.known) != (now.adds, now.known):
        raise Conflict(
            "changed", "Somebody changed these batches while the file came in, so nothing of it did: check it again."
        )
    writing.finish()
