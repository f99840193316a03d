"""The built-in queue: kombu's files, written so that no reader meets half a message.

kombu creates a message under its final name and then fills it; a worker that reads in between
gets nothing, fails on it and ends. Here a message appears whole. One that is spoilt all the same (a
power cut) is dropped: the database is the truth, and the next tick finds its work.
"""

import logging
import os
import uuid
from pathlib import Path
from queue import Empty
from time import monotonic_ns
from typing import Any

from kombu.transport import filesystem
from kombu.utils.json import dumps

logger = logging.getLogger(__name__)


class Channel(filesystem.Channel):
    """Reads and writes the folder of messages, which is made (owner only) when the queue is first used."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for folder in (self.data_folder_in, self.data_folder_out, self.control_folder):
            Path(folder).mkdir(mode=0o700, parents=True, exist_ok=True)

    def _put(self, queue: str, payload: dict[str, Any], **_kwargs: Any) -> None:
        # Readers take names in order, and only those that end in the queue's name.
        name = f"{monotonic_ns():020d}_{uuid.uuid4()}.{queue}.msg"
        draft = self._draft(Path(self.data_folder_out), name, dumps(payload))
        draft.replace(draft.with_name(name))

    def _get(self, queue: str) -> dict[str, Any]:
        try:
            return super()._get(queue)
        except ValueError as error:
            logger.warning("a spoilt message was dropped, the tick will find its work: queue=%s", queue)
            raise Empty from error

    def _queue_bind(self, exchange: str, routing_key: str, pattern: str, queue: str) -> None:
        """Bind as kombu does, but never let a publisher read a table that was just created and is empty."""
        table = self._exchange_file(exchange)
        if not table.exists():
            draft = self._draft(table.parent, table.name, "[]")
            try:
                os.link(draft, table)
            except FileExistsError:
                pass  # another process was first
            finally:
                draft.unlink()
        super()._queue_bind(exchange, routing_key, pattern, queue)

    @staticmethod
    def _draft(folder: Path, name: str, text: str) -> Path:
        draft = folder / f"{name}.{os.getpid()}.draft"
        draft.write_text(text, encoding="utf-8")
        return draft


class Transport(filesystem.Transport):
    """kombu's filesystem transport with that channel."""

    Channel = Channel
