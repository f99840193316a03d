"""Every test of the house, part by part: ``python -m tests`` (``--long`` adds the long forms).

The parts run one after the other: the databases differ, and a browser or a running house does not
share a process with Django's test client. The suites on the two databases take all processors there
are, the browser's two; what a running house does is timed, so it runs alone. What needs
PostgreSQL, Redis or Chromium is skipped with a reason where it is absent; with CUREHOUSE_NO_SKIP=1
a skip counts as a failure. Whether known holes were looked up, or could not be, is said above the counts.
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

from tests.known_holes import NOT_KNOWN, NOT_REACHABLE
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
    # The exit of a part that found out nothing, which is neither passed nor failed, and how that is said.
    finds_nothing_out: tuple[int, str] | None = None


@dataclass(frozen=True)
class Outcome:
    """What came of a part, and what is to be said at the end."""

    passed: bool
    counts: dict[str, int]
    remark: str = ""


# The cores know no database; sources, drawings, descriptions, who may do what and what an answer says beside its content
# are the same under both. Every page and address with rows in it is asked on both (tests of `web` and `api`).
_ONCE = tuple(
    f"--deselect=tests/{path}"
    for path in (
        "core",
        "security",
        "api/test_description.py",
        "api/test_problems.py",
        "api/test_schema.py",
        "api/test_sentences.py",
        "architecture/test_doors.py",
        "architecture/test_layers.py",
        "architecture/test_sizes.py",
        "architecture/test_strangers.py",
        "architecture/test_tree.py",
        "architecture/test_who_may.py",
        "commands/test_refused_words.py",
        "common/test_few_at_once.py",
        "common/test_file_kinds.py",
        "common/test_pdf_actions.py",
        "flows/test_demo.py",
        "inventory/test_short_stories.py",
        "web/test_drawing_colours.py",
        "web/test_drawing_racks.py",
        "web/test_nothing_from_elsewhere.py",
    )
)
# More of them than this would wait for the disk, and each makes the tables first.
_MOST_PROCESSES = 8


def _on_all_processors(most: int = _MOST_PROCESSES) -> tuple[str, ...]:
    processes = min(os.cpu_count() or 1, most)
    return () if processes == 1 else ("-n", str(processes), "--dist", "worksteal")


def _pytest(*args: str) -> tuple[str, ...]:
    return (sys.executable, "-m", "pytest", "-q", *args)


def parts(*, long: bool) -> list[Part]:
    """Return the parts in the order they run, the quickest to fail first."""
    marks, on_the_other = ((), "not both_databases") if long else (("-m", "not long"), "not long and not both_databases")
    return [
        Part("style", (sys.executable, "-m", "ruff", "check", ".")),
        Part("format", (sys.executable, "-m", "ruff", "format", "--check", ".")),
        Part("types", (sys.executable, "-m", "mypy")),
        Part("known holes", (sys.executable, "-m", "tests.known_holes"), finds_nothing_out=(NOT_KNOWN, NOT_REACHABLE)),
        Part("suite on SQLite", _pytest(*marks, *_on_all_processors())),
        Part(
            "suite on PostgreSQL",
            _pytest("-m", on_the_other, *_on_all_processors(), *_ONCE),
            {"DATABASE_URL": POSTGRES_URL},
            needs=("postgresql",),
        ),
        Part("running house", _pytest(*marks, "tests/drills")),
        Part(
            "browser",
            # A house and a browser beside another: more of them would wait for each other.
            _pytest(*marks, *_on_all_processors(2), "tests/browser"),
            {"DJANGO_ALLOW_ASYNC_UNSAFE": "true"},
            needs=("chromium",),
        ),
    ]


def run(part: Part) -> Outcome:
    """Run one part and show what it prints while it runs."""
    print(f"\n=== {part.name}: {' '.join(part.command[1:])}", flush=True)
    absent = "; ".join(filter(None, map(missing, part.needs)))
    if absent:
        print(f"left out: {absent}", flush=True)
        strict = bool(os.environ.get("CUREHOUSE_NO_SKIP"))
        return Outcome(not strict, {"failed": 1} if strict else {"skipped": 1})
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
    if part.finds_nothing_out and code == part.finds_nothing_out[0]:
        return Outcome(True, {}, f"{part.name}: {part.finds_nothing_out[1]}")
    return Outcome(code == 0, _counts(part, code, last))


def _counts(part: Part, code: int, last: str) -> dict[str, int]:
    if "pytest" not in part.command:
        return {"passed": 1} if code == 0 else {"failed": 1}
    counts: dict[str, int] = {}
    for number, word in _COUNT.findall(last):
        key = "failed" if word.startswith("error") else word
        counts[key] = counts.get(key, 0) + int(number)
    if code != 0 and not counts.get("failed"):
        counts["failed"] = 1
    return counts


def main() -> int:
    """Run the chosen parts; return 0 if all of them passed."""
    parser = argparse.ArgumentParser(prog="python -m tests", description=__doc__)
    parser.add_argument("--long", action="store_true", help="run the long forms too")
    parser.add_argument("--only", help="run only the parts whose name holds this text")
    chosen = parser.parse_args()
    totals = {"passed": 0, "failed": 0, "skipped": 0}
    fine, remarks = True, []
    wanted = [part for part in parts(long=chosen.long) if not chosen.only or chosen.only in part.name]
    for part in wanted:
        outcome = run(part)
        fine = fine and outcome.passed
        remarks += [outcome.remark] if outcome.remark else []
        for word, number in outcome.counts.items():
            totals[word] = totals.get(word, 0) + number
    print("", *remarks, sep="\n")
    print(f"{totals['passed']} passed, {totals['failed']} failed, {totals['skipped']} skipped")
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
