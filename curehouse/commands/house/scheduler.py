"""Beat as a thread of the supervisor: it only sends nudges, so it needs no process of its own."""

import logging
import threading
import traceback

from celery import Celery
from celery.beat import Scheduler

logger = logging.getLogger(__name__)


class BeatThread:
    """Sends what the schedule says is due. Nothing is kept: the database knows what is due."""

    name = "beat"

    def __init__(self, app: Celery) -> None:
        self._app = app
        self._ending = threading.Event()
        self._thread: threading.Thread | None = None
        self._fault: str = ""

    def start(self) -> None:
        """Start ticking."""
        self._ending.clear()
        self._fault = ""
        self._thread = threading.Thread(target=self._run, name="beat", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._app.set_current()
            scheduler = Scheduler(self._app)
            while not self._ending.wait(scheduler.tick() or 0):
                pass
        except Exception:
            # Kept for the supervisor, which starts the thread again or gives up showing it.
            self._fault = traceback.format_exc()
            logger.exception("beat ended")

    def end_reason(self) -> str | None:
        """Return how the thread ended, or None while it runs."""
        if self._thread is None or self._thread.is_alive():
            return None
        return "an error" if self._fault else "end of its loop"

    def ask_to_end(self) -> None:
        """Let the thread end at once; while it speaks to a broker, after that."""
        self._ending.set()

    def clear_away(self) -> None:
        """Do nothing: a daemon thread ends with the process."""

    def last_words(self) -> list[str]:
        """Return the error that ended it."""
        return self._fault.splitlines()[-20:]

    def keep_log_small(self) -> None:
        """Do nothing: its log is this process's, which limits itself."""
