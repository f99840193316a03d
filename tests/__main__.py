"""Every test of the house, part by part: ``python -m tests`` (``--long`` adds the long forms).

Each part is a process of its own: the databases differ, and a browser or a running house does not
share a process with Django's test client. What needs PostgreSQL, Redis or Chromium is skipped with
a reason where it is absent; with CUREHOUSE_NO_SKIP=1 a skip counts as a failure.
"""

import argparse
import os
import re
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests.present import POSTGRES_URL, missing

REPOSITORY = Path(__file__).resolve().parents[1]
_COUNT = re.compile(r"(\d+) (passed|failed|error|errors|skipped)")


@dataclass(frozen=True)
class Part:
    """One process: a name to print, what to run, and what must be there for it."""

    name: str
    command: tuple[str, ...]
    env: Mapping[str, str] = field(default_factory=dict)
    needs: tuple[str, ...] = ()


def _pytest(*args: str) -> tuple[str, ...]:
    return (sys.executable, "-m", "pytest", "-q", *args)


def parts(*, long: bool) -> list[Part]:
    """Return the parts in the order they run, the quickest to fail first."""
    marks = () if long else ("-m", "not long")
    return [
        Part("style", (sys.executable, "-m", "ruff", "check", ".")),
        Part("format", (sys.executable, "-m", "ruff", "format", "--check", ".")),
        Part("types", (sys.executable, "-m", "mypy")),
        Part("suite on SQLite", _pytest(*marks)),
        Part("suite on PostgreSQL", _pytest(*marks), {"DATABASE_URL": POSTGRES_URL}, needs=("postgresql",)),
        Part("running house", _pytest(*marks, "tests/drills")),
        Part("browser", _pytest(*marks, "tests/browser"), {"DJANGO_ALLOW_ASYNC_UNSAFE": "true"}, needs=("chromium",)),
    ]


def run(part: Part) -> tuple[bool, dict[str, int]]:
    """Run one part, showing what it prints; return whether it passed and its counts."""
    print(f"\n=== {part.name}: {' '.join(part.command[1:])}", flush=True)
    absent = "; ".join(filter(None, map(missing, part.needs)))
    if absent:
        strict = bool(os.environ.get("CUREHOUSE_NO_SKIP"))
        print(f"left out: {absent}")
        return not strict, {"failed": 1} if strict else {"skipped": 1}
    began = time.monotonic()
    process = subprocess.Popen(
        part.command,
        cwd=REPOSITORY,
        env={**os.environ, **part.env},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    last = ""
    for line in process.stdout or ():
        print(line, end="", flush=True)
        last = line if _COUNT.search(line) else last
    code = process.wait()
    print(f"--- {part.name}: exit {code} after {time.monotonic() - began:.0f} s", flush=True)
    counts: dict[str, int] = {}
    for number, word in _COUNT.findall(last):
        key = "failed" if word.startswith("error") else word
        counts[key] = counts.get(key, 0) + int(number)
    if "pytest" not in part.command:
        counts = {"passed": 1} if code == 0 else {"failed": 1}
    elif code != 0 and not counts.get("failed"):
        counts["failed"] = 1
    return code == 0, counts


def main() -> int:
    """Run the chosen parts; return 0 if all of them passed."""
    parser = argparse.ArgumentParser(prog="python -m tests", description=__doc__)
    parser.add_argument("--long", action="store_true", help="run the long forms too")
    parser.add_argument("--only", help="run only the parts whose name holds this text")
    chosen = parser.parse_args()
    totals = {"passed": 0, "failed": 0, "skipped": 0}
    fine = True
    for part in parts(long=chosen.long):
        if chosen.only and chosen.only not in part.name:
            continue
        passed, counts = run(part)
        fine = fine and passed
        for word, number in counts.items():
            totals[word] = totals.get(word, 0) + number
    print(f"\n{totals['passed']} passed, {totals['failed']} failed, {totals['skipped']} skipped")
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
