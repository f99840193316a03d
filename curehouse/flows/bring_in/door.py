"""Bringing a file in, step by step: laid out, checked, brought in.

The import's row is the truth, a task only a nudge: :func:`carry_on` does what the row says is to be
done, and may be called twice. All of a file comes in with the row that says so, or nothing does.
"""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import DataError, IntegrityError, transaction

from curehouse.common import uploads
from curehouse.common.errors import DomainError
from curehouse.common.locking import lock_alone
from curehouse.common.tables import Cell, Layout, rows
from curehouse.common.visitors import NOWHERE, Origin
from curehouse.flows.bring_in.columns import Column, guess
from curehouse.flows.bring_in.first_row import FirstRow, asked_of, refuse_crosstab, refuse_doubtful
from curehouse.flows.bring_in.kinds import ImportKind, kind_called
from curehouse.flows.bring_in.options import Options, TableOptions, options_of
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.flows.bring_in.progress import forget, keeper
from curehouse.flows.bring_in.table import layout_of
from curehouse.flows.bring_in.work import Work
from curehouse.flows.deeds import sentence
from curehouse.intake.models import Import
from curehouse.intake.services import (
    begin_checking,
    claim_import,
    end_step,
    lay_out_anew,
    remember_columns,
    remembered_columns,
    write_import,
)
from curehouse.workshops.actors import Actor
from curehouse.workshops.services.audit import note
from inventory.services.papers import clean_file_name

logger = logging.getLogger(__name__)

GONE = "The file is not in the data folder any more: choose it again."
_EXAMPLES = 3
_State = Import.State


@dataclass(frozen=True, slots=True)
class FileGiven:
    """A file as it was given: its name and where it lies now."""

    name: str
    path: Path


@dataclass(frozen=True, slots=True)
class Shown:
    """A table as it is shown so that its columns can be named: each with its first values.

    Of ``first_row`` it is asked whether it names them; ``row_is_said`` tells that a person said which row does.
    """

    layout: Layout
    columns: tuple[Column, ...]
    examples: tuple[tuple[Cell, ...], ...]
    first_row: FirstRow | None = None
    row_is_said: bool = False


def _looked_at(kind: ImportKind, actor: Actor, path: Path, options: TableOptions, columns: Sequence[Column]) -> TableOptions:
    """Return how a table is read, with what its columns probably are."""
    layout = layout_of(path, options)
    refuse_crosstab(path, layout, columns)
    # What no row names has a name of ours, by which nothing is known again.
    remembered = remembered_columns(workshop=actor.workshop, kind=kind.key) if layout.header_row else {}
    return TableOptions(
        sheet=layout.sheet,
        delimiter=layout.delimiter,
        encoding=layout.encoding,
        header_row=layout.header_row,
        row_is_said=options.row_is_said,
        columns=dict(options.columns) or guess(layout.headers, columns, remembered),
    )


def first_options(actor: Actor, kind: ImportKind, path: Path, beside: Path | None, told: Options | None = None) -> Options:
    """Return how a file is read as far as that can be found out; *told* is what a person said of it already."""
    start = told or Options(unit=actor.workshop.unit)
    second = None
    if beside is not None:
        second = _looked_at(kind, actor, beside, start.beside or TableOptions(), kind.beside)
    return replace(start, table=_looked_at(kind, actor, path, start.table, kind.columns), beside=second)


def lay_out(
    *, actor: Actor, kind: str, given: FileGiven, at: datetime, beside: FileGiven | None = None, told: Options | None = None
) -> Import:
    """Keep a file and write that it is here, with what its columns probably are; nothing is kept of what is no table."""
    known = kind_called(kind)
    options = first_options(actor, known, given.path, beside.path if beside else None, told)
    name = clean_file_name(given.name)
    beside_name = clean_file_name(beside.name) if beside is not None else ""
    first = uploads.keep_file(given.path)
    with uploads.taken_back(first):
        second = uploads.keep_file(beside.path) if beside is not None else uploads.NO_FILE
    with transaction.atomic(), uploads.taken_back(first, second):
        return write_import(
            actor=actor,
            kind=kind,
            name=name,
            kept=first,
            beside_name=beside_name,
            beside=second,
            options=options.to_json(),
            at=at,
        )


def _files_of(brought: Import) -> tuple[uploads.Kept, uploads.Kept]:
    """Return an import's two files as they are kept; of one that has no second, ``NO_FILE``."""
    first = uploads.Kept(brought.kept_as, brought.sha256)
    return first, uploads.Kept(brought.beside_kept_as, brought.beside_sha256)


def paths_of(brought: Import) -> tuple[Path, Path | None]:
    """Return where the tables of an import lie, each held against its SHA-256.

    Raises ``FileNotFoundError`` where one is gone and ``Conflict`` (content_changed) where it is another now.
    """
    first, second = _files_of(brought)
    return uploads.checked_path(first), uploads.checked_path(second) if second != uploads.NO_FILE else None


def shown_tables(brought: Import) -> list[Shown]:
    """Return the tables of an import, each with its columns' first values."""
    kind, options = kind_called(brought.kind), options_of(brought.options)
    path, second = paths_of(brought)
    remembered = remembered_columns(workshop=brought.workshop, kind=kind.key)
    found = [_shown(path, options.table, kind.columns, remembered)]
    if second is not None and options.beside is not None:
        found.append(_shown(second, options.beside, kind.beside, remembered))
    return found


def check_first_rows(*, actor: Actor, kind: ImportKind, path: Path, beside: Path | None, options: Options) -> None:
    """Raise ``Invalid`` where the first row of a table is taken for headings and nothing tells that it is."""
    remembered = remembered_columns(workshop=actor.workshop, kind=kind.key)
    refuse_doubtful(asked_of(path, layout_of(path, options.table), options.table, kind.columns, remembered))
    if beside is not None and options.beside is not None:
        layout = layout_of(beside, options.beside)
        refuse_doubtful(asked_of(beside, layout, options.beside, kind.beside, remembered), name="second table")


def _shown(path: Path, options: TableOptions, columns: tuple[Column, ...], remembered: Mapping[str, str]) -> Shown:
    layout = layout_of(path, options)
    examples: list[list[Cell]] = [[] for _ in layout.headers]
    for _number, cells in rows(path, layout):
        for index, cell in enumerate(cells[: len(examples)]):
            if cell is not None and len(examples[index]) < _EXAMPLES and cell not in examples[index]:
                examples[index].append(cell)
        if all(len(one) == _EXAMPLES for one in examples):
            break
    asked = asked_of(path, layout, options, columns, remembered)
    return Shown(layout, columns, tuple(tuple(one) for one in examples), asked, options.row_is_said)


@transaction.atomic
def check_as(*, actor: Actor, brought: Import, options: Options, at: datetime) -> Import:
    """Let a file be checked as a person says it is to be read; what columns are is remembered."""
    kind = kind_called(brought.kind)
    path, second = paths_of(brought)
    check_first_rows(actor=actor, kind=kind, path=path, beside=second, options=options)
    layouts = [(path, options.table)] + ([(second, options.beside)] if second is not None and options.beside else [])
    for where, table in layouts:
        layout = layout_of(where, table)
        said: Mapping[str, str] = {header: table.columns.get(index, "") for index, header in enumerate(layout.headers)}
        if layout.header_row:
            remember_columns(workshop=actor.workshop, kind=kind.key, said=said)
    return begin_checking(brought=brought, options=options.to_json(), at=at)


@transaction.atomic
def look_again(*, actor: Actor, brought: Import, options: Options, at: datetime) -> Import:
    """Open a file that is laid out another way; what its columns are is guessed anew."""
    kind = kind_called(brought.kind)
    path, second = paths_of(brought)
    return lay_out_anew(
        brought=brought, options=first_options(actor, kind, path, second, options).to_json(), at=at
    )  # fmt: skip


def check_at_once(
    *, actor: Actor, kind: str, given: FileGiven, beside: FileGiven | None, options: Options, at: datetime
) -> Outcome:
    """Check a file for a door that waits for it; nothing is written."""
    known = kind_called(kind)
    return _at_once(_work(actor, known, given, beside, options, at=at), known)


def _work(
    actor: Actor, kind: ImportKind, given: FileGiven, beside: FileGiven | None, options: Options, *, at: datetime
) -> Work:
    second = beside.path if beside else None
    check_first_rows(actor=actor, kind=kind, path=given.path, beside=second, options=options)
    return Work(actor=actor, path=given.path, beside=second, options=options, at=at, writes=False)


def _at_once(work: Work, kind: ImportKind) -> Outcome:
    found = kind.read(work)
    with transaction.atomic():
        return _take_in(kind, work, found)


def _take_in(kind: ImportKind, work: Work, found: Any) -> Outcome:
    """Hold what was read against the house and write it, if it is to be written.

    One file at a time comes into a workshop: of two that name the same new thing the second finds it here.
    """
    if work.writes:
        lock_alone(f"bring_in:{work.workshop.pk}")
    return kind.take_in(work, found)


def bring_at_once(
    *,
    actor: Actor,
    kind: str,
    given: FileGiven,
    beside: FileGiven | None,
    options: Options,
    at: datetime,
    origin: Origin = NOWHERE,
) -> Outcome:
    """Bring a file in for a door that waits for it, and note it as done from *origin*.

    Of a file with a refused row, or nothing new, nothing is kept.
    """
    known = kind_called(kind)
    checking = _work(actor, known, given, beside, options, at=at)
    found = known.read(checking)
    with transaction.atomic():
        result = _take_in(known, checking, found)
    if result.refused_rows or result.adds_nothing:
        return result
    found = known.read(checking)
    with transaction.atomic():
        kept = lay_out(actor=actor, kind=kind, given=given, beside=beside, told=options, at=at)
        with uploads.taken_back(*_files_of(kept)):
            result = _take_in(known, replace(checking, writes=True, brought=kept), found)
            state = _State.LAID_OUT if result.refused_rows else _State.BROUGHT
            end_step(brought=kept, state=state, outcome=result.to_json(), at=at)
            note(actor=actor, code="import_bring", said=sentence("import_bring", given.name), origin=origin, at=at)
    return result


def carry_on(*, workshop_id: int, import_id: int, at: datetime) -> Import | None:
    """Do what an import waits for; None where it waits for nothing, or a worker is at it.

    What a person can mend is said on the import, and so is a fault of the house, which would come again
    each time. A database that cannot be reached is raised: the lease that is left lets the tick try again.
    """
    brought = claim_import(workshop_id=workshop_id, import_id=import_id, at=at)
    if brought is None:
        return None
    try:
        return _carried_on(brought, at=at)
    except DomainError as error:
        return end_step(brought=brought, state=_State.FAILED, outcome=None, said=error.message, at=at)
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, DataError, IntegrityError):
        logger.exception("import failed: workshop=%s import=%s", workshop_id, import_id)
        said = "The house stumbled over this file, so nothing of it came in: a fault of the house, noted in its log."
        return end_step(brought=brought, state=_State.FAILED, outcome=None, said=said, at=at)
    except FileNotFoundError:
        return end_step(brought=brought, state=_State.FAILED, outcome=None, said=GONE, at=at)
    finally:
        forget(brought)


def _carried_on(brought: Import, *, at: datetime) -> Import:
    kind, (path, second) = kind_called(brought.kind), paths_of(brought)
    work = Work(
        actor=Actor(workshop=brought.workshop, user=brought.by_user, device=brought.by_device),
        path=path,
        beside=second,
        options=options_of(brought.options),
        at=at,
        writes=brought.state == _State.BRINGING,
        brought=brought,
        progress=keeper(brought),
    )
    found = kind.read(work)
    with transaction.atomic():
        result = _take_in(kind, work, found)
        is_in = work.writes and not result.refused_rows
        state = _State.BROUGHT if is_in else _State.CHECKED
        return end_step(brought=brought, state=state, outcome=result.to_json(), at=at)
