"""What can be said after ``manage.py start``; read twice, before and after Django is loaded."""

import argparse
from pathlib import Path
from typing import NoReturn

from curehouse.commands.house.refusal import Refused

DEFAULT_PORT = 8000
ANY_ADDRESS = "any"


class OneLineParser(argparse.ArgumentParser):
    """Answers a wrong option with one sentence, without the usage text around it."""

    def error(self, message: str) -> NoReturn:
        """Raise Refused instead of printing usage and leaving."""
        raise Refused(f"{message}. `manage.py start --help` lists what can be said.")


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
    parser.add_argument("--cert", type=Path, metavar="FILE", help="certificate (PEM), for HTTPS")
    parser.add_argument("--key", type=Path, metavar="FILE", help="the certificate's private key (PEM)")
    parser.add_argument("--demo", action="store_true", help="open an invented workshop and print its sign-in")
    parser.add_argument("--restore", type=Path, metavar="FILE", help="first restore this backup into an empty folder")


def parse_start(words: list[str]) -> argparse.Namespace:
    """Return `start`'s options from the words after it; Django's own options are left alone."""
    parser = OneLineParser(prog="manage.py start", add_help=False, allow_abbrev=False)
    add_start_options(parser)
    return parser.parse_known_args(words)[0]
