"""Whatever file is given is answered in words, and of one that is bad nothing is kept.

The short form makes two hundred files, the same each time; the long form (``-m long``) two thousand.
"""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, given, settings

from curehouse.common.errors import Conflict, DomainError
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, carry_on, check_as, first_options, lay_out
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options, options_of
from curehouse.flows.bring_in.outcome import Outcome, Refusal, outcome_of
from curehouse.intake.models import Import
from curehouse.intake.services import begin_bringing
from tests.flows.bring_in.bad_files import TABLES, BadFile, as_csv, as_xlsx, bad_files
from tests.world import World

pytestmark = pytest.mark.django_db

_WRITES = ("INSERT", "UPDATE", "DELETE")
_NO_WORDS = ("Traceback", "Error", "Exception", "Decimal(", "None", "object at", "codec")


@pytest.fixture(autouse=True)
def house_folder(settings: Any, tmp_path: Path) -> Path:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    return settings.DATA_FOLDER


@contextmanager
def written() -> Iterator[list[str]]:
    """Note every statement that writes."""
    found: list[str] = []

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip().upper().startswith(_WRITES):
            found.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield found


def bring(world: World, kind: str, given_file: FileGiven) -> Outcome:
    options = first_options(world.actor, kind_called(kind), given_file.path, None, Options())
    return bring_at_once(actor=world.actor, kind=kind, given=given_file, beside=None, options=options, at=world.now)


def assert_in_words(said: str) -> None:
    assert re.fullmatch(r"[A-Z“].{15,}[.?]", said, re.DOTALL), said
    assert not any(word in said for word in _NO_WORDS), said


def assert_tells(refusals: tuple[Refusal, ...]) -> None:
    for one in refusals:
        assert re.fullmatch(r"[A-Z]+\d+|row \d+", one.cell), one
        assert len(one.why) > 8, one
        assert not any(word in one.why for word in _NO_WORDS), one


def step_by_step(world: World, file: BadFile, given_file: FileGiven) -> str:
    """Do what a page does with a file: lay it out, check it, try to bring it in. Return what it is said to be."""
    try:
        laid = lay_out(actor=world.actor, kind=file.kind, given=given_file, at=world.now)
        check_as(actor=world.actor, brought=laid, options=options_of(laid.options), at=world.now)
    except DomainError as error:
        assert_in_words(error.message)
        return "no table"
    done = carry_on(workshop_id=world.workshop.pk, import_id=laid.pk, at=world.now)
    assert done is not None
    if done.state == Import.State.FAILED:
        assert_in_words(done.said)
        return "failed"
    assert done.state == Import.State.CHECKED
    assert done.outcome is not None
    json.dumps(done.outcome, allow_nan=False)
    outcome = outcome_of(done.outcome)
    if not outcome.refused_rows:
        return "sound"
    assert_tells(outcome.refusals)
    with pytest.raises(Conflict) as refused:
        begin_bringing(brought=done, at=world.now)
    assert_in_words(refused.value.message)
    return "refused"


def assert_answered(world: World, folder: Path, file: BadFile) -> str:
    """Give a file to the house by both of its ways; return what came of it."""
    given_file = FileGiven(file.name, file.put(folder / "given"))
    with transaction.atomic():
        found = step_by_step(world, file, given_file)
        transaction.set_rollback(True)
    if found == "sound":
        assert not file.is_surely_bad, "what cannot be right was taken"
        return found
    with written() as statements:
        try:
            outcome = bring(world, file.kind, given_file)
        except DomainError as error:
            assert_in_words(error.message)
        else:
            assert outcome.refused_rows
            assert_tells(outcome.refusals)
    assert statements == []
    return found


def give_many(world: World, folder: Path, *, examples: int, alike: bool) -> dict[str, int]:
    counts: dict[str, int] = {}

    @settings(max_examples=examples, derandomize=alike, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(file=bad_files)
    def one(file: BadFile) -> None:
        found = assert_answered(world, folder, file)
        counts[found] = counts.get(found, 0) + 1

    one()
    return counts


@pytest.mark.parametrize("kind", sorted(TABLES))
@pytest.mark.parametrize("made", [as_csv, as_xlsx])
def test_the_tables_that_are_spoilt_here_come_in_while_they_are_sound(
    world: World, tmp_path: Path, kind: str, made: Callable[..., bytes]
) -> None:
    path = tmp_path / "sound"
    path.write_bytes(made(TABLES[kind]))
    with written() as statements:
        outcome = bring(world, kind, FileGiven("sound", path))
    assert not outcome.refused_rows, outcome.refusals
    assert not outcome.adds_nothing
    assert statements


def test_two_hundred_bad_files_are_answered_in_words_and_change_nothing(world: World, tmp_path: Path) -> None:
    counts = give_many(world, tmp_path, examples=200, alike=True)
    # Most are bad indeed, and each way of being bad is met.
    assert sum(counts.values()) >= 200
    assert {"no table", "refused"} <= set(counts)
    assert counts.get("sound", 0) < 0.25 * sum(counts.values()), counts


@pytest.mark.long
def test_two_thousand_bad_files_are_answered_in_words_and_change_nothing(world: World, tmp_path: Path) -> None:
    assert sum(give_many(world, tmp_path, examples=2000, alike=False).values()) >= 2000
