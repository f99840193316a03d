"""What can be said after ``manage.py start``; read twice, before and after Django is loaded."""

import argparse
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NoReturn

from curehouse.commands.house.refusal import Refused

DEFAULT_PORT = 8000
ANY_ADDRESS = "any"
# What Django itself reads after any command.
_OF_EVERY_COMMAND: tuple[tuple[tuple[str, ...], dict[str, Any]], ...] = (
    (("-v", "--verbosity"), {}),
    (("--settings",), {}),
    (("--pythonpath",), {}),
    (("--traceback",), {"action": "store_true"}),
    (("--no-color",), {"action": "store_true"}),
    (("--force-color",), {"action": "store_true"}),
)


class OneLineParser(argparse.ArgumentParser):
    """Reads the words after one command; answers a wrong one with a sentence, without the usage text around it."""

    def __init__(self, command: str) -> None:
        super().__init__(prog=f"manage.py {command}", add_help=False, allow_abbrev=False)
        self._command = command
        for words, more in _OF_EVERY_COMMAND:
            self.add_argument(*words, help=argparse.SUPPRESS, **more)

    def error(self, message: str) -> NoReturn:
        """Raise Refused instead of printing usage and leaving."""
        end = "" if message.endswith("?") else "."
        raise Refused(f"{message}{end} `{self.prog} --help` lists what can be said.")

    def read(self, words: list[str]) -> argparse.Namespace:
        """Return the options in *words*.

        Raises
        ------
        Refused
            A word is no option of the command, or a value is missing or wrong.
        """
        options, unknown = self.parse_known_args(words)
        if unknown:
            self.error(self._not_known(unknown[0]))
        return options

    def _not_known(self, word: str) -> str:
        if not word.startswith("-"):
            return f"{word!r} follows no option of {self._command} that takes a value"
        name = word.partition("=")[0]
        alike = get_close_matches(name, [each for each in self._option_string_actions if each.startswith("--")], n=1)
        return f"{name} is no option of {self._command}" + (f"; was {alike[0]} meant?" if alike else "")


def file_path(text: str) -> Path:
    """Return *text* as the path of a file."""
    if not text.strip():
        raise argparse.ArgumentTypeError("the name of the file is empty; write one")
    return Path(text)


def port_number(text: str) -> int:
    """Return *text* as a TCP port."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is no port; write a number from 1 to 65535")
    return int(text)


def process_count(text: str) -> int:
    """Return *text* as a number of processes, at least one."""
    if not text.isascii() or not text.isdigit() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of processes; write 1 or more")
    return int(text)


def add_data_option(parser: argparse.ArgumentParser) -> None:
    """Declare ``--data``; `early.prepare` has read it before Django's settings are loaded."""
    parser.add_argument(
        "--data",
        metavar="DIR",
        help="folder for database, queue, secrets and uploads (default: var/ beside manage.py)",
    )


def add_start_options(parser: argparse.ArgumentParser) -> None:
    """Declare everything `start` takes."""
    add_data_option(parser)
    parser.add_argument("--port", type=port_number, default=DEFAULT_PORT, help="port to listen on (default: 8000)")
    parser.add_argument(
        "--lan",
        nargs="?",
        const=ANY_ADDRESS,
        metavar="ADDRESS",
        help="also serve the local network, under every address this computer has there or under ADDRESS only",
    )
    parser.add_argument("--cert", type=file_path, metavar="FILE", help="certificate (PEM), for HTTPS")
    parser.add_argument("--key", type=file_path, metavar="FILE", help="the certificate's private key (PEM)")
    parser.add_argument("--demo", action="store_true", help="open an invented workshop and print its sign-in")
    parser.add_argument("--restore", type=file_path, metavar="FILE", help="first restore this backup into an empty folder")


def add_backup_options(parser: argparse.ArgumentParser) -> None:
    """Declare everything `backup` takes."""
    add_data_option(parser)
    parser.add_argument("file", type=file_path, metavar="FILE", help="new file to write (ZIP)")


def add_check_runs_options(parser: argparse.ArgumentParser) -> None:
    """Declare everything `check_runs` takes."""
    add_data_option(parser)
    parser.add_argument("cases", type=file_path, metavar="FILE", help="the cases (JSON): a list, each with its own storeroom")
    parser.add_argument("--out", type=file_path, required=True, metavar="JSON", help="where the answers go")


def add_reorder_levels_options(parser: argparse.ArgumentParser) -> None:
    """Declare everything `reorder_levels` takes."""
    add_data_option(parser)
    parser.add_argument(
        "folder", type=file_path, metavar="FOLDER", help="a folder of CSV files with what was used and received"
    )
    parser.add_argument("--out", type=file_path, required=True, metavar="JSON", help="where the levels go")


def parse_start(words: list[str]) -> argparse.Namespace:
    """Return `start`'s options from the words after it, or raise Refused."""
    parser = OneLineParser("start")
    add_start_options(parser)
    return parser.read(words)


def parse_backup(words: list[str]) -> argparse.Namespace:
    """Return `backup`'s options from the words after it, or raise Refused."""
    parser = OneLineParser("backup")
    add_backup_options(parser)
    return parser.read(words)


def parse_check_runs(words: list[str]) -> argparse.Namespace:
    """Return `check_runs`'s options from the words after it, or raise Refused."""
    parser = OneLineParser("check_runs")
    add_check_runs_options(parser)
    return parser.read(words)


def parse_reorder_levels(words: list[str]) -> argparse.Namespace:
    """Return `reorder_levels`'s options from the words after it, or raise Refused."""
    parser = OneLineParser("reorder_levels")
    add_reorder_levels_options(parser)
    return parser.read(words)
