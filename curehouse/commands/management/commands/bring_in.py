"""``manage.py bring_in KIND FILE``: a spreadsheet comes into the house, whole or not at all."""

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_data_option, file_path
from curehouse.commands.house.refusal import Refused, leave
from curehouse.common.errors import DomainError, Invalid
from curehouse.common.visitors import Origin
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, check_at_once, first_options
from curehouse.flows.bring_in.kinds import KINDS, ImportKind, kind_called
from curehouse.flows.bring_in.options import (
    DATE_ORDERS,
    DECIMALS,
    DELIMITER_WORDS,
    ENCODING_WORDS,
    SHARES,
    UNITS,
    Options,
    TableOptions,
)
from curehouse.flows.bring_in.outcome import Outcome, counted
from curehouse.flows.bring_in.sent import named_columns
from curehouse.flows.bring_in.table import layout_of
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop

_MOST_PRINTED = 40
_DELIMITERS = {word: mark for mark, word in DELIMITER_WORDS.items()}


class Command(BaseCommand):
    """Checks the file first and lists what it would refuse; ends with 1 where a row is refused."""

    help = "Bring a CSV or XLSX file in: batches with their weighings, stock, suppliers, past use."

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Return a parser that answers a wrong word with a sentence, without the usage text around it."""
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        parser.error = _refuse
        return parser

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_data_option(parser)
        parser.add_argument("kind", choices=sorted(KINDS), help="what the file holds")
        parser.add_argument("file", type=file_path, metavar="FILE", help="the file (CSV or XLSX)")
        parser.add_argument("--with", dest="beside", type=file_path, metavar="FILE", help="a second table, such as cut dates")
        parser.add_argument("--dry-run", action="store_true", help="only say what would come in, and what is refused")
        parser.add_argument(
            "--column", action="append", default=[], metavar="HEADER=KEY",
            help="what a column is (KEY empty: leave it out); --list-columns lists the keys",
        )  # fmt: skip
        parser.add_argument("--list-columns", action="store_true", help="list the columns the kind knows, and what is found")
        parser.add_argument("--sheet", default="", help="the sheet of an XLSX file (default: the first that holds something)")
        parser.add_argument("--delimiter", default="", help="what separates the cells, or tab (default: found out)")
        parser.add_argument(
            "--encoding", default="", help=f"the encoding of the text: {', '.join(ENCODING_WORDS)} (default: found out)"
        )
        parser.add_argument("--header-row", type=int, help="the row that names the columns, 0 for none (default: found out)")
        parser.add_argument(
            "--dates",
            choices=[key for key in DATE_ORDERS if key],
            default="",
            help="day or month first (default: only year first is read)",
        )
        parser.add_argument(
            "--share-in",
            choices=[key for key in SHARES if key],
            default="",
            help="how water shares are written (default: as the figures show)",
        )
        parser.add_argument("--decimal", choices=[key for key in DECIMALS if key], default="", help="the decimal mark")
        parser.add_argument("--unit", choices=list(UNITS), help="the unit of masses without one (default: the workshop's)")
        parser.add_argument("--water-share", default="", help="the water share of all batches, where no column holds it")
        parser.add_argument("--formula", default="", help="the formula of all batches, where no column holds it")
        parser.add_argument(
            "--still-curing", action="store_true", help="the batches still cure, however long ago the last weighing"
        )
        parser.add_argument("--with-unweighed", action="store_true", help="bring in batches that have no weighing too")
        parser.add_argument(
            "--as-of", default="", metavar="DAY",
            help="the day (its morning), or day and time, of which a stock list tells (default: this morning)",
        )  # fmt: skip
        parser.add_argument("--workshop", default="", help="the workshop's name, where the house has several")

    def handle(self, **said: Any) -> None:
        try:
            outcome = self._bring(said)
        except DomainError as error:
            leave(Refused(error.message))
        if outcome is None:
            return
        for line in lines_of(outcome, is_dry=said["dry_run"]):
            say(line)
        if outcome.refused_rows:
            raise CommandError(f"{_rows(outcome.refused_rows)} refused, so nothing came in: mend what is wrong and try again.")

    def _bring(self, said: dict[str, Any]) -> Outcome | None:
        kind, at = kind_called(said["kind"]), timezone.now()
        given = _given(said["file"])
        beside = None if said["beside"] is None else _given(said["beside"])
        if beside is not None and not kind.beside:
            raise Invalid("beside", f"{kind.label} come in from one table: leave --with out.")
        actor = Actor(workshop=_workshop(said["workshop"]))
        options = _options(said, actor, kind, given.path, beside.path if beside else None)
        if said["list_columns"]:
            for line in _columns(kind, options, given.path):
                say(line)
            return None
        told = {"actor": actor, "kind": kind.key, "given": given, "beside": beside, "options": options, "at": at}
        return check_at_once(**told) if said["dry_run"] else bring_at_once(**told, origin=Origin(command="bring_in"))


def _refuse(message: str) -> NoReturn:
    leave(Refused(f"{message}. `manage.py bring_in --help` lists what can be said."))


def _given(path: Path) -> FileGiven:
    if not path.is_file():
        raise Invalid("file", f"There is no file {path}.")
    return FileGiven(path.name, path)


def _workshop(name: str) -> Workshop:
    found = list(Workshop.objects.order_by("pk"))
    if name:
        found = [workshop for workshop in found if workshop.name.casefold() == name.casefold()]
    if len(found) == 1:
        return found[0]
    if not found:
        missing = f"There is no workshop called {name}." if name else "Nobody lives here yet: set up your workshop first."
        raise Invalid("workshop", missing)
    raise Invalid("workshop", f"Say which workshop with --workshop: {', '.join(workshop.name for workshop in found)}.")


def _options(said: dict[str, Any], actor: Actor, kind: ImportKind, path: Path, beside: Path | None) -> Options:
    table = TableOptions(
        sheet=said["sheet"],
        delimiter=_DELIMITERS.get(said["delimiter"], said["delimiter"]),
        encoding=said["encoding"],
        header_row=said["header_row"],
        row_is_said=said["header_row"] is not None,
    )
    told = Options(
        table=table,
        date_order=said["dates"],
        decimal=said["decimal"],
        share_in=said["share_in"],
        unit=said["unit"] or actor.workshop.unit,
        water_share=said["water_share"],
        formula=said["formula"],
        still_curing=said["still_curing"],
        with_unweighed=said["with_unweighed"],
        as_of=said["as_of"],
    )
    options = first_options(actor, kind, path, beside, told)
    if not said["column"]:
        return options
    said_of = dict(_named(word) for word in said["column"])
    columns, here = _in_table(path, options.table, said_of, kind.columns)
    second, there = None, set()
    if beside is not None and options.beside is not None:
        second, there = _in_table(beside, options.beside, said_of, kind.beside)
    missing = [header for header in said_of if header not in here | there]
    if missing:
        raise Invalid("column", f"No column is headed “{missing[0]}”: see --list-columns.")
    return options.with_columns(columns, second)


def _named(word: str) -> tuple[str, str]:
    header, separator, key = word.rpartition("=")
    if not separator:
        raise Invalid("column", f"--column {word} names no column: write HEADER=KEY.")
    return header.strip(), key.strip()


def _in_table(
    path: Path, table: TableOptions, said: dict[str, str], known: Sequence[Column]
) -> tuple[dict[int, str], set[str]]:
    """Return a table's columns with those that were said of it, and the headers among them that it has."""
    headers = {header.casefold() for header in layout_of(path, table).headers}
    here = {header: key for header, key in said.items() if header.casefold() in headers}
    return named_columns(path, table, here, known, what="column"), set(here)


def _columns(kind: ImportKind, options: Options, path: Path) -> Iterable[str]:
    table = options.table
    layout = layout_of(path, table)
    yield f"{kind.label}: a column can be"
    for column in kind.columns:
        yield f"  {column.key:14} {column.label}{f' ({column.hint})' if column.hint else ''}"
    yield f"{path.name} has"
    for index, header in enumerate(layout.headers):
        yield f"  {header}: {table.columns.get(index) or 'left out'}"


def lines_of(outcome: Outcome, *, is_dry: bool) -> Iterable[str]:
    """Yield what is said of an outcome."""
    for refusal in outcome.refusals[:_MOST_PRINTED]:
        where = f"{refusal.table}, " if refusal.table else ""
        value = f" “{refusal.value}”" if refusal.value else ""
        yield f"{where}{refusal.cell}{f' ({refusal.header})' if refusal.header else ''}:{value} {refusal.why}."
    if outcome.refused_rows > _MOST_PRINTED:
        yield f"… {outcome.refused_rows} refused rows in all."
    if is_dry and outcome.as_read.rows:
        yield "The first rows as they are read:"
        for row in outcome.as_read.rows:
            yield "  " + ", ".join(
                f"{header}: {cell}" for header, cell in zip(outcome.as_read.headers, row, strict=True) if cell
            )
    yield from outcome.remarks
    if outcome.left_out_count:
        shown = ", ".join(outcome.left_out[:10]) + (" …" if outcome.left_out_count > 10 else "")
        yield f"{outcome.left_out_count} without a weighing, left out (--with-unweighed brings them in): {shown}"
    known = ", ".join(counted(what, number) for what, number in outcome.known.items() if number)
    if known:
        yield f"Here already: {known}."
    adds = ", ".join(counted(what, number) for what, number in outcome.adds.items() if number)
    if outcome.refused_rows:
        return
    verb = "Would come in" if is_dry else "Came in"
    yield f"{verb}: {adds}." if adds else "Nothing new is in the file."


def _rows(number: int) -> str:
    return "1 row is" if number == 1 else f"{number} rows are"
