"""What was kept under its digest, before names were random, stays where it lies and is read as before."""

import hashlib
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, connection
from django.db.migrations.executor import MigrationExecutor

from curehouse.common import uploads
from curehouse.flows.bring_in.door import paths_of
from curehouse.intake.models import Import
from inventory.models import LotFile
from inventory.services.papers import attach_file, content_of, look_through
from tests.arena import Arena
from tests.common.test_guards import guards_in_words
from tests.history import to, to_the_newest
from tests.papers import PDF
from tests.world import World

BEFORE = [("inventory", "0003_kinds_of_papers"), ("intake", "0002_say_what_did_not_come_in")]
LIST, PICKED = b"batch;bar;weight\n", b"bar;letter\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, settings: Any) -> Path:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    return settings.DATA_FOLDER


def digest_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def keep_by_digest(content: bytes) -> str:
    path = uploads.path_of(digest_of(content))
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path.name


def write_as_before(world: World, lot_id: int) -> None:
    """Write a paper and two imports as they stood in the tables of then."""
    then = MigrationExecutor(connection).loader.project_state(BEFORE).apps
    by = {"workshop_id": world.workshop.pk, "by_user_id": world.owner.pk}
    paper = {"name": "certificate.pdf", "content_type": "application/pdf", "size_bytes": len(PDF), "at": world.now}
    then.get_model("inventory", "LotFile")._base_manager.create(lot_id=lot_id, sha256=keep_by_digest(PDF), **paper, **by)
    when = {"laid_out_at": world.now, "changed_at": world.now, "state": "laid_out"}
    file = {"kind": "batches", "name": "log.csv", "sha256": keep_by_digest(LIST), **when, **by}
    imports = then.get_model("intake", "Import")._base_manager
    imports.create(**file)
    imports.create(**file, beside_name="bars.csv", beside_sha256=keep_by_digest(PICKED))


def by_hand(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)


def test_rows_of_before_are_read_after_and_nothing_is_moved(arena: Arena, folder: Path) -> None:
    """Two workshops shared the files then; both still read them, and what comes now gets names of its own."""
    guards = arena.do(guards_in_words)
    house, next_door = arena.do(World), arena.do(partial(World, name="Thistlewick", email="wren@thistlewick.example"))
    lots = [arena.do(world.lot) for world in (house, next_door)]
    arena.do(partial(to, *BEFORE))
    for world, lot in zip((house, next_door), lots, strict=True):
        arena.do(partial(write_as_before, world, lot.pk))
    lay = sorted(path for path in folder.rglob("*") if path.is_file())
    arena.do(to_the_newest)

    assert sorted(path for path in folder.rglob("*") if path.is_file()) == lay
    papers = arena.do(lambda: list(LotFile.unscoped.all()))
    assert [(one.kept_as, content_of(one)) for one in papers] == [(digest_of(PDF), PDF)] * 2
    assert not any(one.without_prices for one in papers), "nobody said so of what was there"
    imports = arena.do(lambda: list(Import.unscoped.order_by("pk")))
    read = [[path.read_bytes() for path in paths_of(one) if path is not None] for one in imports]
    assert read == [[LIST], [LIST, PICKED]] * 2

    assert arena.do(guards_in_words) == guards
    with pytest.raises(IntegrityError, match="ledger rows stay as they were written"):
        arena.do(partial(by_hand, "UPDATE inventory_lotfile SET kept_as = 'x'"))
    new = arena.do(lambda: attach_file(actor=house.actor, lot=lots[0], paper=look_through("again.pdf", PDF), at=house.now))
    assert new.kept_as != new.sha256 == digest_of(PDF)
