"""A file that a program sends: laid out and checked at one go, with its columns named by their headers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction

from curehouse.common.errors import Invalid
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.door import FileGiven, check_as, check_first_rows, first_options, lay_out, paths_of
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options, TableOptions, options_of
from curehouse.flows.bring_in.table import layout_of
from curehouse.intake.models import Import
from curehouse.workshops.actors import Actor

TABLE_OPTIONS = ("sheet", "delimiter", "encoding", "header_row")


@dataclass(frozen=True, slots=True)
class Said:
    """What was said of a file: options by their names, and what columns are by their headers."""

    options: Mapping[str, Any] = field(default_factory=dict)
    columns: Mapping[str, str] = field(default_factory=dict)
    beside_columns: Mapping[str, str] = field(default_factory=dict)


def _with_said(start: Options, said: Said) -> Options:
    """Return the options with what was said; a table that is opened otherwise has its columns found anew."""
    opened = {name: value for name, value in said.options.items() if name in TABLE_OPTIONS}
    others = {name: value for name, value in said.options.items() if name not in TABLE_OPTIONS}
    if "header_row" in opened:
        opened["row_is_said"] = True
    if "sheet" in opened:
        return replace(start, **others, table=TableOptions(**opened))
    table = replace(start.table, **opened, columns={}) if opened else start.table
    return replace(start, **others, table=table)


def named_columns(
    path: Path, table: TableOptions, said: Mapping[str, str], known: Sequence[Column], *, what: str
) -> dict[int, str]:
    """Return the columns with those that were named by their headers; an empty name leaves a column out."""
    headers = [header.casefold().strip() for header in layout_of(path, table).headers]
    keys = [column.key for column in known]
    columns = dict(table.columns)
    for header, key in said.items():
        if header.casefold().strip() not in headers:
            raise Invalid("columns", f"No column is headed “{header[:80]}”: name it as it stands in the file.", field=what)
        if key and key not in keys:
            raise Invalid("columns", f"“{header[:80]}” is to be one of: {', '.join(keys)}; or nothing.", field=what)
        for other in [index for index, told in columns.items() if key and told == key]:
            del columns[other]
        columns[headers.index(header.casefold().strip())] = key
    return columns


def _options(actor: Actor, kind_key: str, where: tuple[Path, Path | None], start: Options, said: Said) -> Options:
    kind, (path, second) = kind_called(kind_key), where
    options = first_options(actor, kind, path, second, _with_said(start, said))
    check_first_rows(actor=actor, kind=kind, path=path, beside=second, options=options)
    beside = None
    if second is not None and options.beside is not None:
        beside = named_columns(second, options.beside, said.beside_columns, kind.beside, what="beside_columns")
    elif said.beside_columns:
        raise Invalid("beside", "There is no second table whose columns could be named.", field="beside_columns")
    return options.with_columns(named_columns(path, options.table, said.columns, kind.columns, what="columns"), beside)


@transaction.atomic
def send_in(*, actor: Actor, kind: str, given: FileGiven, said: Said, at: datetime, beside: FileGiven | None = None) -> Import:
    """Lay a file out as it was said to be read, and let it be checked."""
    known = kind_called(kind)
    if beside is not None and not known.beside:
        raise Invalid("beside", f"{known.label} come in from one file: leave the second out.", field="beside")
    where = (given.path, beside.path if beside else None)
    options = _options(actor, kind, where, Options(unit=actor.workshop.unit), said)
    laid = lay_out(actor=actor, kind=kind, given=given, beside=beside, told=options, at=at)
    return check_as(actor=actor, brought=laid, options=options, at=at)


@transaction.atomic
def check_again(*, actor: Actor, brought: Import, said: Said, at: datetime) -> Import:
    """Let a file that is here be checked once more, with what is said of it now."""
    try:
        options = _options(actor, brought.kind, paths_of(brought), options_of(brought.options), said)
    except FileNotFoundError as error:
        raise Invalid("file", "The file is not in the data folder any more: send it again.", field="file") from error
    return check_as(actor=actor, brought=brought, options=options, at=at)
