"""One child process: started in a session of its own, ended with everything it started."""

import contextlib
import os
import signal
import subprocess
import sys
from pathlib import Path

from curehouse.commands.house.logs import keep_small, last_lines

CHILD = "curehouse.commands.house.child"


class Child:
    """The process of one role; what it prints goes to *log*."""

    def __init__(self, role: str, words: list[str], log: Path) -> None:
        self.name = role
        self._words = words
        self._log = log
        self._log_start = 0
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the process. Call it from the main thread: the child's tie hangs on that thread."""
        command = [sys.executable, "-m", CHILD, self.name, "--parent", str(os.getpid()), *self._words]
        with self._log.open("ab") as log:
            self._log_start = log.tell()
            self._process = subprocess.Popen(  # noqa: S603  # our own module and words
                command,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def end_reason(self) -> str | None:
        """Return how the process ended, or None while it runs."""
        code = None if self._process is None else self._process.poll()
        if code is None:
            return None
        return f"killed by {signal.Signals(-code).name}" if code < 0 else f"exit code {code}"

    def ask_to_end(self) -> None:
        """Send SIGTERM to the process; it ends its own children."""
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()

    def clear_away(self) -> None:
        """Kill what is left of the process and of everything it started."""
        if self._process is None:
            return
        # A killed web server leaves its worker on the port.
        # macOS answers with a missing permission for a group that holds nothing but zombies.
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def last_words(self) -> list[str]:
        """Return the last lines of its log since it started."""
        return last_lines(self._log, since=self._log_start)

    def keep_log_small(self) -> None:
        """Keep the log within its limit."""
        keep_small(self._log)
