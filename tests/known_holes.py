"""Are there known holes in what the house is made of? ``python -m tests.known_holes`` asks pip-audit.

Asked about is what ``pyproject.toml`` names and all that it brings in, in the versions that are installed
here. pip-audit says "no known vulnerabilities" too where a service knows none of the packages (an index that
answers 404 to all of it), so a service is asked first about a release whose holes were published years ago:
one that names none of them knows nothing.

Ends with 0 where nothing that has a fix is known, 1 where something is, and 3 where nothing can be known.
"""

import json
import os
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

CLEAN, HOLES, NOT_KNOWN = 0, 1, 3
NOT_REACHABLE = "not reachable: nothing is known about holes"
# CVE-2019-14234 and a dozen others, fixed in later releases (PyPA advisory database).
TELLTALE = "django==2.2"
# The whole of a try at a service that does not answer, and one silence of a service that did.
TRY_SECONDS, SILENCE_SECONDS, WHOLE_SECONDS = 8.0, 5, 300.0
_PYPROJECT = Path(__file__).parents[1] / "pyproject.toml"


@dataclass(frozen=True)
class Hole:
    """A published hole of one package, and the releases that have it mended."""

    package: str
    version: str
    idents: tuple[str, ...]
    fixed_in: tuple[str, ...]

    def __str__(self) -> str:
        remedy = f"fixed in {', '.join(self.fixed_in)}" if self.fixed_in else "no release mends it yet"
        return f"{self.package} {self.version}: {', '.join(self.idents)}; {remedy}"


@dataclass(frozen=True)
class Report:
    """What a service said of the packages it was asked about."""

    packages: int
    holes: tuple[Hole, ...]
    unknown: tuple[str, ...]


def services() -> list[tuple[str, ...]]:
    """Return pip-audit's words for each service to try; ``TEST_HOLES_URL`` names the only one."""
    own = os.environ.get("TEST_HOLES_URL")
    return [("-s", "osv", "--osv-url", own)] if own else [("-s", "pypi"), ("-s", "osv")]


def made_of() -> list[str]:
    """Return every package that ``pyproject.toml`` brings in, ``name==version``; raises SystemExit where one is absent."""
    project = tomllib.loads(_PYPROJECT.read_text("utf-8"))
    told = project["project"]["dependencies"] + project["project"]["optional-dependencies"]["dev"]
    # What builds the house is fetched for that alone and is not installed.
    builds = {str(Requirement(one)) for one in project["build-system"]["requires"]}
    return sorted(builds | {f"{name}=={version}" for name, version in _closure([*map(Requirement, told)]).items()})


def _closure(wanted: list[Requirement]) -> dict[str, str]:
    found: dict[str, str] = {}
    seen: set[tuple[str, frozenset[str]]] = set()
    while wanted:
        one = wanted.pop()
        key = (canonicalize_name(one.name), frozenset(one.extras))
        if key in seen:
            continue
        seen.add(key)
        try:
            there = distribution(one.name)
        except PackageNotFoundError:
            raise SystemExit(f"{one} is not installed: pip install -e '.[dev]'") from None
        found[key[0]] = there.version
        wanted += _brought_by(there.requires or [], one.extras)
    return found


def _brought_by(lines: list[str], extras: set[str]) -> Iterator[Requirement]:
    for line in lines:
        one = Requirement(line)
        if one.marker is None or any(one.marker.evaluate({"extra": extra}) for extra in {"", *extras}):
            yield one


def ask(service: tuple[str, ...], packages: list[str], *, within_seconds: float) -> Report | None:
    """Return what *service* says of *packages*, or None where it did not answer, or not as it should."""
    with tempfile.TemporaryDirectory() as folder:
        pins = Path(folder) / "pins.txt"
        pins.write_text("\n".join(packages), encoding="utf-8")
        # Its own cache: an answer of last week's is not an answer.
        command = [
            *(sys.executable, "-m", "pip_audit", *service, "-r", str(pins), "--no-deps", "--disable-pip"),
            *("-f", "json", "--progress-spinner", "off", "--timeout", str(SILENCE_SECONDS), "--cache-dir", folder),
        ]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=within_seconds, check=False)
        except subprocess.TimeoutExpired:
            return None
    try:
        return _report(json.loads(done.stdout)["dependencies"])
    except (ValueError, LookupError, TypeError):
        return None


def _report(said: list[dict[str, Any]]) -> Report:
    holes = tuple(
        Hole(one["name"], one["version"], tuple(sorted({hole["id"], *hole["aliases"]})), tuple(hole["fix_versions"]))
        for one in said
        for hole in one.get("vulns", ())
    )
    return Report(len(said), holes, tuple(one["name"] for one in said if "skip_reason" in one))


def report() -> Report | None:
    """Return what the first service that knows anything says of the house, or None where none does."""
    for service in services():
        telltale = ask(service, [TELLTALE], within_seconds=TRY_SECONDS)
        if telltale is not None and telltale.holes:
            return ask(service, made_of(), within_seconds=WHOLE_SECONDS)
    return None


def main() -> int:
    """Say what is known; return how it ends."""
    found = report()
    if found is None:
        print(NOT_REACHABLE)
        return NOT_KNOWN
    for hole in sorted(found.holes, key=str):
        print(hole)
    if found.unknown:
        print(f"nothing is known about {', '.join(found.unknown)}")
    bad = sum(bool(hole.fixed_in) for hole in found.holes)
    asked = found.packages - len(found.unknown)
    print(f"{asked} packages looked up: {bad} known holes with a fix, {len(found.holes) - bad} without")
    if bad:
        return HOLES
    return CLEAN if asked else NOT_KNOWN


if __name__ == "__main__":
    sys.exit(main())
