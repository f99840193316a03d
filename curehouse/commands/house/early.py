"""What must happen before Django reads its settings.

Settings are read at import, and they need to know the data folder; a backup must be unpacked
before a new folder gets its own secret; and what can be refused is refused before anything of
Django is loaded.
"""

import argparse
import os
from dataclasses import dataclass
from pathlib import Path

from curehouse.commands.house import archive, certificate, network
from curehouse.commands.house.folder import FolderLock, check_lived_in, check_usable
from curehouse.commands.house.options import parse_backup, parse_check_runs, parse_reorder_levels, parse_start
from curehouse.commands.house.refusal import Refused, leave
from curehouse.commands.house.signals import wish_to_end
from curehouse.commands.house.soundness import check_sound

REPOSITORY = Path(__file__).resolve().parents[3]
_ASKING = ("help", "version")
_NEED_A_HOUSE = ("backup", "bring_in", "let_in", "verify_ledger", "verify_places", "verify_rooms")


@dataclass(frozen=True)
class Prepared:
    """What `prepare_start` settled; the lock is held for as long as the process lives."""

    doors: network.Doors
    lock: FolderLock


_prepared: list[Prepared] = []
# Commands that open no house, with what reads their words.
_BY_FILES_ALONE = {"check_runs": parse_check_runs, "reorder_levels": parse_reorder_levels}


def prepare(argv: list[str]) -> None:
    """Take ``--data`` out of *argv* (every command knows it) and get `start` ready to begin."""
    # Whatever any command writes there is its owner's alone.
    os.umask(0o077)
    try:
        folder = take_data_option(argv)
        if _only_asks(argv):
            return
        command, words = argv[1], argv[2:]
        # Words that can't be followed are refused before anything is made.
        options = parse_start(words) if command == "start" else None
        if command in _BY_FILES_ALONE:
            _BY_FILES_ALONE[command](words)
            return
        if command == "backup":
            archive.check_target(parse_backup(words).file)
        if command in _NEED_A_HOUSE and not os.environ.get("DATABASE_URL"):
            check_lived_in(folder)
        check_usable(folder)
        if options is not None:
            prepare_start(folder, options)
    except Refused as refusal:
        leave(refusal)


def _only_asks(argv: list[str]) -> bool:
    """Return whether the words ask for help or for the version, which touches no house."""
    return len(argv) < 2 or argv[1] in _ASKING or not {"-h", "--help", "--version"}.isdisjoint(argv)


def take_data_option(argv: list[str]) -> Path:
    """Remove ``--data`` from *argv* and put its folder into the environment."""
    given: str | None = None
    place = 2
    while place < len(argv):
        word = argv[place]
        if word == "--data":
            if place + 1 == len(argv):
                raise Refused("--data needs a folder after it.")
            given = argv[place + 1]
            del argv[place : place + 2]
        elif word.startswith("--data="):
            given = word.removeprefix("--data=")
            del argv[place]
        else:
            place += 1
    if given == "":
        raise Refused("--data needs a folder after it.")
    chosen = given or os.environ.get("CUREHOUSE_DATA") or REPOSITORY / "var"
    folder = Path(chosen).expanduser().resolve()
    os.environ["CUREHOUSE_DATA"] = str(folder)
    return folder


def prepare_start(folder: Path, options: argparse.Namespace) -> None:
    """Refuse what can't work, take the folder, restore if asked, and say where the house listens."""
    tls = certificate.check_pair(options.cert, options.key)
    doors = network.open_doors(port=options.port, lan=options.lan, tls=tls)
    wish_to_end.listen()
    lock = FolderLock(folder)
    lock.take()
    network.check_port_free(doors)
    if options.restore is not None:
        if os.environ.get("DATABASE_URL"):
            raise Refused(
                "--restore unpacks a house that keeps its data here, and DATABASE_URL leads elsewhere: leave one out."
            )
        archive.restore(options.restore, folder)
    check_sound(folder)
    os.environ.update(doors.environment(os.environ))
    _prepared.append(Prepared(doors, lock))


def prepared() -> Prepared:
    """Return what was settled for `start` in this process."""
    if not _prepared:
        raise Refused("start must be run by manage.py: it gets ready before Django is loaded.")
    return _prepared[0]
