"""Ctrl-C and SIGTERM, asked for politely and never lost."""

import signal
import threading
from types import FrameType

_ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Wish:
    """Whether somebody wants the house to end; `impatient` when they asked a second time.

    Until `hold` is called the wish is fulfilled on the spot, by leaving with code 0: the house
    isn't open yet, and what is being written is in a transaction or put away in a finally.
    """

    def __init__(self) -> None:
        self._asked = threading.Event()
        self._held = False
        self.impatient = False

    def listen(self) -> None:
        """Take the signals over, SIGINT too where a shell started this process with it ignored."""
        for number in _ENDING:
            signal.signal(number, self.hear)

    def hold(self) -> None:
        """Only note the wish from now on: there are children that must be ended first."""
        self._held = True

    def wait(self, seconds: float) -> bool:
        """Wait up to *seconds* for the wish and return whether it is there."""
        return self._asked.wait(seconds)

    def hear(self, number: int, frame: FrameType | None) -> None:
        """Note the wish; takes what a signal handler is given."""
        if self._asked.is_set():
            self.impatient = True
        self._asked.set()
        if not self._held:
            raise SystemExit(0)


wish_to_end = Wish()
