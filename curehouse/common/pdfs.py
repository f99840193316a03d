"""Whether a PDF is paper and nothing else: it does nothing by itself, holds no other files, and can be looked through.

pypdf reads it (pure Python, well kept, hardened against what is made to hurt), in a process of its own: neither a file
that keeps it busy nor one that fills the memory holds up or ends what serves the pages, which do not load it at all.
One is looked through at a time, so that several such files together take no more of the computer than one.
"""

import subprocess
import sys
from pathlib import Path
from threading import Lock

from curehouse.common.errors import Conflict, Invalid

_ROOT = Path(__file__).parents[2]
# Without the house's settings, secrets and folders (-I): it needs the file on its input and its own two modules.
_RUNS = [
    sys.executable,
    "-I",
    "-c",
    f"import sys; sys.path.insert(0, {str(_ROOT)!r}); from curehouse.common.pdf_actions import main; main()",
]
# Beyond what its process may count: on a busy computer it stands still meanwhile.
ANSWER_WITHIN_SECONDS = 10.0
_WAIT_SECONDS = 12.0
_one_at_a_time = Lock()
_REFUSED = {
    "acts": (
        "file_runs",
        "The PDF does something by itself, like running a script, or opening or sending a file: print it to a new PDF and"
        " attach that.",
    ),
    "holds-file": (
        "file_is_two",
        "The PDF has other files in it: print it to a new PDF, which holds its pages alone, and attach that.",
    ),
    "locked": (
        "file_broken",
        "The PDF is encrypted, so what it holds cannot be looked at: print it to a new PDF without a password and attach that.",
    ),
}
_BROKEN = (
    "file_broken",
    "The PDF cannot be read to its end: print it to a new PDF, or have it sent again, and attach that.",
)


def check_pdf(content: bytes) -> None:
    """Raise :class:`Invalid`, which says what to do instead, unless *content* is a PDF of pages alone.

    Raises ``Conflict`` (files_busy) where another file is looked through for longer than a request can wait.
    """
    if not _one_at_a_time.acquire(timeout=_WAIT_SECONDS):
        raise Conflict(
            "files_busy", "The house is busy looking through other files: try again in a minute.", field="file"
        )  # fmt: skip
    try:
        found = _found(content)
    finally:
        _one_at_a_time.release()
    if found != "nothing":
        code, said = _REFUSED.get(found, _BROKEN)
        raise Invalid(code, said, field="file")


def _found(content: bytes) -> str:
    try:
        done = subprocess.run(  # noqa: S603  # our own module
            _RUNS, input=content, capture_output=True, timeout=ANSWER_WITHIN_SECONDS, check=False, env={}
        )
    except subprocess.TimeoutExpired:
        return ""
    return done.stdout.decode("ascii", "replace")
