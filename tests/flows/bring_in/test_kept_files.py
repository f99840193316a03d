"""What lies in the data folder of a file that comes in: each under a name of its own, and none without its row."""

import errno
from functools import partial
from pathlib import Path
from secrets import token_hex
from typing import Any

import pytest
from django.db import IntegrityError

from curehouse.common import uploads
from curehouse.common.uploads import NO_FILE, Kept
from curehouse.flows.bring_in import door
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options, lay_out
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.intake.models import Import
from curehouse.intake.services import write_import
from tests.arena import Arena
from tests.world import World

LIST = b"batch,formula,bar,water,cut,day,weight\nFern 1,Fern,b1,31 %,2024-01-02,7,120.5\n"


@pytest.fixture(autouse=True)
def house_folder(settings: Any, tmp_path: Path) -> Path:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    return settings.DATA_FOLDER


@pytest.fixture
def log(tmp_path: Path) -> FileGiven:
    (tmp_path / "log.csv").write_bytes(LIST)
    return FileGiven("log.csv", tmp_path / "log.csv")


def files_in(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def fail(*_args: object, **_said: object) -> None:
    raise IntegrityError


def test_a_file_whose_row_cannot_be_written_is_not_left_behind(
    world: World, log: FileGiven, house_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "write_import", fail)
    with pytest.raises(IntegrityError):
        lay_out(actor=world.actor, kind="batches", given=log, beside=log, at=world.now)
    assert files_in(house_folder) == []


def test_a_second_file_there_is_no_room_for_leaves_the_first_not_behind(
    world: World, log: FileGiven, house_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_file, kept = uploads.keep_file, []

    def one_only(path: Path) -> Kept:
        if kept:
            raise OSError(errno.ENOSPC, "No space left on device")
        kept.append(keep_file(path))
        return kept[0]

    monkeypatch.setattr(uploads, "keep_file", one_only)
    with pytest.raises(OSError, match="No space left"):
        lay_out(actor=world.actor, kind="batches", given=log, beside=log, at=world.now)
    assert len(kept) == 1
    assert files_in(house_folder) == []


@pytest.mark.parametrize("fails", [True, False])
def test_a_file_brought_in_at_once_is_kept_only_with_its_rows(
    world: World, log: FileGiven, house_folder: Path, monkeypatch: pytest.MonkeyPatch, *, fails: bool
) -> None:
    """The control beside it: the same file, and nothing that fails."""
    options = first_options(world.actor, kind_called("batches"), log.path, None)
    bring = partial(bring_at_once, actor=world.actor, kind="batches", given=log, beside=None, options=options, at=world.now)
    if fails:
        monkeypatch.setattr(door, "note", fail)
        with pytest.raises(IntegrityError):
            bring()
    else:
        bring()
    names = [one.kept_as for one in Import.objects.within(world.workshop)]
    assert [path.name for path in files_in(house_folder)] == names
    assert len(names) == (0 if fails else 1)


def test_no_two_files_share_a_name_but_those_kept_under_their_digest(arena: Arena) -> None:
    digest = "a" * 64

    def write(kept: Kept, beside: Kept = NO_FILE, beside_name: str = "") -> None:
        world = World(name=f"House {token_hex(4)}", email=f"{token_hex(4)}@fennelyard.example")
        write_import(
            actor=world.actor, kind="batches", name="x.csv", kept=kept, beside=beside, beside_name=beside_name,
            options={}, at=world.now,
        )  # fmt: skip

    def other() -> Kept:
        return Kept(token_hex(32), digest)

    shared = Kept("b" * 64, digest)
    arena.do(partial(write, Kept(digest, digest), Kept(digest, digest), "cuts.csv"))
    arena.do(partial(write, Kept(digest, digest), Kept(digest, digest), "cuts.csv"))
    arena.do(partial(write, shared, shared, "cuts.csv"))
    arena.do(partial(write, other()))
    arena.do(partial(write, other()))
    for refused, constraint in (
        ((shared,), "kept_as|import_kept_once"),
        ((other(), shared, "cuts.csv"), "beside_kept_as|import_beside_kept_once"),
        ((Kept("", digest),), "import_kept"),
        ((other(), Kept("", digest), "cuts.csv"), "import_beside_whole"),
        ((other(), other(), ""), "import_beside_whole"),
    ):
        with pytest.raises(IntegrityError, match=constraint):
            arena.do(partial(write, *refused))
