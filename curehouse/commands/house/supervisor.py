"""Keeps the parts of the house running until somebody wants it to end."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from curehouse.commands.house.refusal import Refused
from curehouse.commands.house.signals import Wish

LOOK_EVERY_SECONDS = 0.25
END_WITHIN_SECONDS = 8.0
# A part that lived shorter than this failed quickly.
QUICK_SECONDS = 10.0
GIVE_UP_AFTER = 10
LONGEST_PAUSE_SECONDS = 8.0
LOGS_EVERY_SECONDS = 60.0


class Part(Protocol):
    """Something that is started, watched and ended: a child process or the beat thread."""

    name: str

    def start(self) -> None: ...
    def end_reason(self) -> str | None: ...
    def ask_to_end(self) -> None: ...
    def clear_away(self) -> None: ...
    def last_words(self) -> list[str]: ...
    def keep_log_small(self) -> None: ...


@dataclass
class _Watched:
    part: Part
    born: float = 0.0
    quick_failures: int = 0
    start_at: float | None = field(default=None)
    hindered: bool = False


def pause_before_restart(quick_failures: int) -> float:
    """Return the seconds to wait: none at first, then doubling, so that a fault can't spin."""
    if quick_failures <= 1:
        return 0.0
    return min(0.5 * 2.0 ** (quick_failures - 2), LONGEST_PAUSE_SECONDS)


class Supervisor:
    """Runs *parts*; *say* gets one line when something happens, *on_look* runs at every look."""

    def __init__(
        self,
        parts: Sequence[Part],
        wish: Wish,
        *,
        say: Callable[[str], None],
        on_look: Callable[[], None],
        pause: Callable[[int], float] = pause_before_restart,
        look_every: float = LOOK_EVERY_SECONDS,
    ) -> None:
        self._watched = [_Watched(part) for part in parts]
        self._wish = wish
        self._say = say
        self._on_look = on_look
        self._pause = pause
        self._look_every = look_every
        self._logs_seen = time.monotonic()

    def run(self) -> None:
        """Start everything and return when the wish to end has been fulfilled.

        Raises
        ------
        Refused
            A part failed quickly `GIVE_UP_AFTER` times in a row; the rest has been ended.
        """
        try:
            for watched in self._watched:
                self._start(watched)
            while not self._wish.wait(self._look_every):
                for watched in self._watched:
                    self._look_after(watched)
                self._on_look()
                self._keep_logs_small()
        finally:
            self._end()

    def _start(self, watched: _Watched) -> None:
        watched.start_at = None
        watched.born = time.monotonic()
        try:
            watched.part.start()
        except OSError as error:
            # A full disk passes; said once, or the terminal fills as well.
            if not watched.hindered:
                self._say(f"The {watched.part.name} can't be started ({error.strerror or error}); trying until it can.")
            watched.hindered = True
            watched.start_at = watched.born + self._pause(GIVE_UP_AFTER)
        else:
            watched.hindered = False

    def _look_after(self, watched: _Watched) -> None:
        now = time.monotonic()
        if watched.start_at is not None:
            if now >= watched.start_at:
                self._start(watched)
            return
        reason = watched.part.end_reason()
        if reason is None:
            return
        watched.part.clear_away()
        quick = now - watched.born < QUICK_SECONDS
        watched.quick_failures = watched.quick_failures + 1 if quick else 0
        if watched.quick_failures >= GIVE_UP_AFTER:
            lines = "\n".join(f"    {line}" for line in watched.part.last_words())
            raise Refused(
                f"the {watched.part.name} ended {GIVE_UP_AFTER} times within seconds ({reason});"
                f" giving up. Its last lines:\n{lines}"
            )
        pause = self._pause(watched.quick_failures)
        self._say(f"The {watched.part.name} ended ({reason}); starting it again.")
        watched.start_at = now + pause
        if pause == 0:
            self._start(watched)

    def _keep_logs_small(self) -> None:
        if time.monotonic() - self._logs_seen >= LOGS_EVERY_SECONDS:
            self._logs_seen = time.monotonic()
            for watched in self._watched:
                try:
                    watched.part.keep_log_small()
                except OSError as error:
                    self._say(f"The log of the {watched.part.name} can't be kept small ({error.strerror}).")

    def _end(self) -> None:
        running = [w.part for w in self._watched if w.start_at is None and w.born]
        for part in running:
            part.ask_to_end()
        deadline = time.monotonic() + END_WITHIN_SECONDS
        while any(part.end_reason() is None for part in running):
            if time.monotonic() > deadline or self._wish.impatient:
                break
            time.sleep(0.05)
        for part in running:
            part.clear_away()
