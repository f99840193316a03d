"""Ctrl-C and SIGTERM, asked for politely and never lost."""

import signal
import threading
from types import FrameType

_ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Wish:
    """Whether somebody wants the house to end; `impatient` when they asked a second time."""

    def __init__(self) -> None:
        self._asked = threading.Event()
        self.impatient = False

    def listen(self) -> None:
        """Take the signals over, SIGINT too where a shell started this process with it ignored."""
        for number in _ENDING:
            signal.signal(number, self.hear)

    def is_set(self) -> bool:
        """Whether the house shall end."""
        return self._asked.is_set()

    def wait(self, seconds: float) -> bool:
        """Wait up to *seconds* for the wish and return whether it is there."""
        return self._asked.wait(seconds)

    def hear(self, number: int, frame: FrameType | None) -> None:
        """Note the wish; takes what a signal handler is given."""
        if self._asked.is_set():
            self.impatient = True
        self._asked.set()


wish_to_end = Wish()
