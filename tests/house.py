"""A real, running house for tests: ``manage.py start`` as a subprocess on a folder of its own.

    with RunningHouse(tmp_path / "data", env={"EMAIL_URL": "smtp://127.0.0.1:2525"}) as house:
        urlopen(house.base_url + "/healthz")
        house.child("worker").kill()          # psutil.Process
        house.manage("backup", str(archive))  # another command on the same folder
    # left with SIGTERM; whatever is still there after that is killed and reported

``with`` waits until ``/healthz`` answers 200. ``house.base_url`` has no slash at its end;
``house.output()`` is what `start` printed so far, ``house.logs()`` what its children wrote.
Nothing of the calling environment that would lead the house elsewhere (database, queue, mail,
hosts) is passed on: say it in ``env``. ``before`` puts words before the command line, such as
``("sh", "-c", 'trap "" INT; exec "$@"', "sh")``.
"""

import os
import random
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

import psutil

REPOSITORY = Path(__file__).resolve().parents[1]
# Upper bounds for a computer that has much else to do: nothing waits so long where all is well.
READY_WITHIN_SECONDS = 120.0
STOP_WITHIN_SECONDS = 60.0
PATIENCE_SECONDS = 120.0
_NOT_PASSED_ON = (
    "ALLOWED_HOSTS",
    "CSRF_TRUSTED_ORIGINS",
    "DATABASE_URL",
    "DEBUG",
    "DJANGO_SETTINGS_MODULE",
    "EMAIL_URL",
    "REDIS_URL",
    "SECRET_KEY",
)


# Below the ports that systems hand out to connections of their own, which may take one between the probe and its use.
_PORTS = range(20_000, 32_000)


def free_port() -> int:
    """Return a TCP port that nothing on this computer uses right now, at any of its addresses."""
    draw = random.SystemRandom()
    for _ in range(100):
        port = draw.choice(_PORTS)
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("", port))
            except OSError:
                continue
        return port
    raise AssertionError(f"no port of {_PORTS} is free")


def clean_environment(extra: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return this process's environment without what would lead a house elsewhere, plus *extra*."""
    environment = {
        name: value for name, value in os.environ.items() if name not in _NOT_PASSED_ON and not name.startswith("CUREHOUSE_")
    }
    environment["PYTHONUNBUFFERED"] = "1"
    environment.update(extra or {})
    return environment


def wait_until(condition: Callable[[], object], *, seconds: float, what: str) -> None:
    """Return once *condition* is true; raise AssertionError naming *what* after *seconds*."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            raise AssertionError(f"waited {seconds:g} s in vain for: {what}")
        time.sleep(0.05)


def run_manage(
    *args: str, data: Path, env: Mapping[str, str] | None = None, timeout: float = 180
) -> subprocess.CompletedProcess[str]:
    """Run one command of the house to its end; standard error is joined to the output."""
    return subprocess.run(
        [sys.executable, str(REPOSITORY / "manage.py"), *args, "--data", str(data)],
        env=clean_environment(env),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=timeout,
        check=False,
    )


def status_of(address: str, headers: Mapping[str, str] | None = None) -> int:
    """Return the status code of a GET of *address*; certificates aren't verified."""
    context = ssl.create_default_context()
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    try:
        request = urllib.request.Request(address, headers=dict(headers or {}))
        with urllib.request.urlopen(request, timeout=20, context=context) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        return refused.code


class RunningHouse:
    """``manage.py start`` on *data*; see the module's text."""

    def __init__(
        self,
        data: Path,
        *args: str,
        env: Mapping[str, str] | None = None,
        port: int | None = None,
        host: str = "127.0.0.1",
        wait: bool = True,
        before: Sequence[str] = (),
        ready_within: float = READY_WITHIN_SECONDS,
    ) -> None:
        self.data = data
        self.args: Sequence[str] = args
        self.env = dict(env or {})
        self.port = port or free_port()
        self.host = host
        self.wait = wait
        self.before = before
        self.ready_within = ready_within
        self.scheme = "https" if "--cert" in args else "http"
        self.base_url = f"{self.scheme}://{host}:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None
        self.seen: dict[int, psutil.Process] = {}
        self._printed = data.with_name(f"{data.name}.{self.port}.out")

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        try:
            self.stop()
        finally:
            left = self.alive()
            for process in left:
                process.kill()
        if left and kind is None:
            raise AssertionError(f"the house left processes behind: {left}")

    def start(self) -> None:
        """Start the house (again, too: same folder, same port) and wait for its first answer."""
        self.data.parent.mkdir(parents=True, exist_ok=True)
        with self._printed.open("ab") as printed:
            self.process = subprocess.Popen(
                [
                    *self.before,
                    sys.executable,
                    str(REPOSITORY / "manage.py"),
                    "start",
                    *("--port", str(self.port)),
                    *("--data", str(self.data)),
                    *self.args,
                ],
                env=clean_environment(self.env),
                stdout=printed,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        if self.wait:
            self.wait_ready()

    def wait_ready(self) -> None:
        """Wait for ``/healthz`` to answer 200; fail at once if `start` has ended."""

        def ready() -> bool:
            if self._running().poll() is not None:
                raise AssertionError(f"start ended with {self._running().returncode}:\n{self.output()}")
            return self.is_healthy()

        try:
            wait_until(ready, seconds=self.ready_within, what=f"{self.base_url}/healthz")
        except AssertionError as error:
            self.kill()
            raise AssertionError(f"{error}\n{self.output()}\n{self.logs()}") from error
        self.tree()

    def is_healthy(self) -> bool:
        """Whether ``/healthz`` answers 200 right now."""
        try:
            return self.status("/healthz") == 200
        except OSError:
            return False

    def status(self, path: str, headers: Mapping[str, str] | None = None) -> int:
        """Return the status code of a GET of *path*; certificates aren't verified."""
        return status_of(self.base_url + path, headers)

    def stop(self, signal_number: int = signal.SIGTERM) -> int:
        """End the house politely and return its exit code; a second call only returns the code."""
        process = self._running()
        if process.poll() is None:
            self.tree()
            process.send_signal(signal_number)
        try:
            return process.wait(STOP_WITHIN_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            raise AssertionError(f"start did not end in {STOP_WITHIN_SECONDS} s:\n{self.output()}") from None

    def kill(self) -> None:
        """Kill the supervisor as the kernel would (SIGKILL): its children get no word of it."""
        self.tree()
        self._running().kill()
        self._running().wait()

    def tree(self) -> list[psutil.Process]:
        """Return the supervisor and everything below it; remembered for `alive`."""
        try:
            top = psutil.Process(self._running().pid)
            found = [top, *top.children(recursive=True)]
        except psutil.NoSuchProcess:
            return []
        self.seen.update({process.pid: process for process in found})
        return found

    def alive(self) -> list[psutil.Process]:
        """Return the processes ever seen in the tree that still run."""
        self.tree()
        return [p for p in self.seen.values() if p.is_running() and p.status() != psutil.STATUS_ZOMBIE]

    def child(self, role: str) -> psutil.Process:
        """Return the child process that `start` runs for *role*: ``web`` or ``worker``."""
        top = psutil.Process(self._running().pid)
        for process in top.children():
            command = process.cmdline()
            if "curehouse.commands.house.child" in command and role in command:
                return process
        raise AssertionError(f"no child of role {role}:\n{self.output()}")

    def manage(self, *args: str, timeout: float = 180) -> subprocess.CompletedProcess[str]:
        """Run another command on this house's folder and environment."""
        return run_manage(*args, data=self.data, env=self.env, timeout=timeout)

    def output(self) -> str:
        """Return what `start` has printed."""
        return self._printed.read_text(encoding="utf-8", errors="replace")

    def logs(self) -> str:
        """Return what the children have written to the folder's logs."""
        files = sorted((self.data / "logs").glob("*.log"))
        return "\n".join(f"--- {f.name}\n{f.read_text(encoding='utf-8', errors='replace')}" for f in files)

    def _running(self) -> subprocess.Popen[bytes]:
        if self.process is None:
            raise AssertionError("the house has not been started")
        return self.process
