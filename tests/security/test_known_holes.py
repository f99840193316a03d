"""Known holes of what the house is made of: found, told apart from silence, and never read as none."""

import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from tests import known_holes
from tests.__main__ import Part, parts, run
from tests.house import REPOSITORY
from tests.known_holes import CLEAN, HOLES, NOT_KNOWN, NOT_REACHABLE, TELLTALE, made_of

# What a service that does not answer may add to a run of the tests.
MOST_SECONDS = 20.0


def hole(package: str, ident: str, *, fixed: str | None) -> dict[str, Any]:
    """Return a hole as OSV's schema 1.0 writes it."""
    events = [{"introduced": "0"}, *([{"fixed": fixed}] if fixed else [])]
    where = {"package": {"name": package, "ecosystem": "PyPI"}, "ranges": [{"type": "ECOSYSTEM", "events": events}]}
    return {"id": ident, "aliases": [f"CVE-{ident}"], "summary": "reads what it must not", "affected": [where]}


class Service(ThreadingHTTPServer):
    """OSV's query address on this computer: knows the holes it is given, or misbehaves as it is told."""

    daemon_threads = True

    def __init__(self, holes: dict[str, dict[str, Any]], *, knows_the_past: bool, status: int, hangs_after: int | None) -> None:
        self.holes = dict(holes)
        if knows_the_past:
            self.holes[TELLTALE] = hole("django", "PYSEC-2019-1", fixed="2.2.4")
        self.status, self.hangs_after = status, hangs_after
        self.asked: list[str] = []
        self.ended = threading.Event()
        super().__init__(("127.0.0.1", 0), Answers)


class Answers(BaseHTTPRequestHandler):
    server: Service

    def do_POST(self) -> None:
        query = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        self.server.asked.append(f"{query['package']['name']}=={query['version']}")
        if self.server.hangs_after is not None and len(self.server.asked) > self.server.hangs_after:
            self.server.ended.wait()
            return
        found = self.server.holes.get(self.server.asked[-1])
        body = json.dumps({"vulns": [found]} if found else {}).encode()
        self.send_response(self.server.status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_said: Any) -> None:
        pass


@contextmanager
def service(
    holes: dict[str, dict[str, Any]] | None = None,
    *,
    knows_the_past: bool = True,
    status: int = 200,
    hangs_after: int | None = None,
) -> Iterator[Service]:
    with Service(holes or {}, knows_the_past=knows_the_past, status=status, hangs_after=hangs_after) as one:
        threading.Thread(target=one.serve_forever, daemon=True).start()
        try:
            yield one
        finally:
            one.ended.set()
            one.shutdown()


def looked_up(at: Service | str) -> tuple[int, str, float]:
    """Return how the look-up ends, what it says, and its seconds."""
    url = at if isinstance(at, str) else f"http://127.0.0.1:{at.server_port}/v1/query"
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "tests.known_holes"],
        cwd=REPOSITORY,
        env={**os.environ, "TEST_HOLES_URL": url},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.stderr == ""
    return done.returncode, done.stdout, time.monotonic() - began


def pin_of(package: str) -> str:
    return next(pin for pin in made_of() if pin.startswith(f"{package}=="))


def test_a_hole_with_a_fix_fails_and_names_the_release_that_mends_it() -> None:
    with service({pin_of("celery"): hole("celery", "OSV-7", fixed="99.1")}) as one:
        code, said, _seconds = looked_up(one)
    assert code == HOLES
    assert f"{pin_of('celery').replace('==', ' ')}: CVE-OSV-7, OSV-7; fixed in 99.1" in said
    assert "1 known holes with a fix, 0 without" in said


def test_a_hole_that_nobody_has_mended_is_shown_and_fails_nothing() -> None:
    with service({pin_of("celery"): hole("celery", "OSV-8", fixed=None)}) as one:
        code, said, _seconds = looked_up(one)
    assert code == CLEAN
    assert "CVE-OSV-8, OSV-8; no release mends it yet" in said
    assert "0 known holes with a fix, 1 without" in said


def test_where_nothing_is_found_everything_was_asked_about() -> None:
    with service() as one:
        code, said, _seconds = looked_up(one)
    assert (code, said) == (CLEAN, f"{len(made_of())} packages looked up: 0 known holes with a fix, 0 without\n")
    assert sorted(one.asked) == sorted([TELLTALE, *made_of()])


def test_a_service_that_knows_of_no_hole_ever_is_not_believed() -> None:
    """As an index answers that keeps packages and no advisories."""
    with service(knows_the_past=False) as one:
        code, said, _seconds = looked_up(one)
    assert (code, said) == (NOT_KNOWN, f"{NOT_REACHABLE}\n")
    assert one.asked == [TELLTALE]


@pytest.mark.parametrize("how", ["hangs", "hangs later", "500", "404", "nobody listens", "no such host"])
def test_a_service_that_does_not_answer_is_said_soon_and_is_not_read_as_clean(how: str) -> None:
    with service(
        status=int(how) if how.isdigit() else 200, hangs_after={"hangs": 0, "hangs later": 4}.get(how)
    ) as one, socket.socket() as shut:  # fmt: skip
        shut.bind(("127.0.0.1", 0))
        urls = {
            "nobody listens": f"http://127.0.0.1:{shut.getsockname()[1]}/v1/query",
            "no such host": "http://holes.invalid/v1/query",
        }
        code, said, seconds = looked_up(urls.get(how, one))
    assert (code, said) == (NOT_KNOWN, f"{NOT_REACHABLE}\n")
    assert seconds < MOST_SECONDS


def test_two_services_that_hang_add_no_more_than_may_be_added() -> None:
    """What is tried where no address is given."""
    assert len(known_holes.services()) * known_holes.TRY_SECONDS < MOST_SECONDS


def part_called_known_holes() -> Part:
    (found,) = (part for part in parts(long=False) if part.name == "known holes")
    return found


@pytest.mark.parametrize(
    ("code", "passed", "counts", "remark"),
    [
        (CLEAN, True, {"passed": 1}, ""),
        (HOLES, False, {"failed": 1}, ""),
        (NOT_KNOWN, True, {}, f"known holes: {NOT_REACHABLE}"),
        (2, False, {"failed": 1}, ""),
    ],
)
def test_a_run_of_the_tests_counts_what_is_not_known_as_nothing_and_says_so(
    code: int, passed: bool, counts: dict[str, int], remark: str
) -> None:
    part = part_called_known_holes()
    told = Part(part.name, (sys.executable, "-c", f"raise SystemExit({code})"), finds_nothing_out=part.finds_nothing_out)
    outcome = run(told)
    assert (outcome.passed, outcome.counts, outcome.remark) == (passed, counts, remark)


def test_all_that_the_house_is_made_of_is_looked_up() -> None:
    """What is pinned, what builds it, and what those bring along."""
    names = {pin.partition("==")[0] for pin in made_of()}
    assert {"django", "pip-audit", "setuptools", "sqlparse", "kombu", "psycopg-binary"} <= names
    assert "curehouse" not in names
