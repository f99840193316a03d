"""One address holds a few threads and no more, and is let in again once they are free."""

import threading
from collections.abc import Iterable
from typing import Any

import pytest

from curehouse.common.few_at_once import MOST_AT_ONCE, few_at_once


class Held:
    """An application that waits for the rest of every body, as a silent one is waited for."""

    def __init__(self) -> None:
        self.goes_on, self.inside = threading.Event(), threading.Semaphore(0)

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        if environ.get("CONTENT_LENGTH"):
            self.inside.release()
            self.goes_on.wait(30)
        if environ.get("fails"):
            raise RuntimeError("a fault of a view")
        start_response("200 OK", [])
        return [b"done"]


def ask(application: Any, source: str, **environ: str) -> str:
    said: list[str] = []
    list(application({"REMOTE_ADDR": source, **environ}, lambda status, _headers: said.append(status)))
    return said[0][:3]


def test_an_address_holds_a_few_and_others_come_in_meanwhile() -> None:
    held = Held()
    house = few_at_once(held)
    senders = [
        threading.Thread(target=ask, args=(house, "192.0.2.1"), kwargs={"CONTENT_LENGTH": "9"}) for _ in range(MOST_AT_ONCE)
    ]
    for one in senders:
        one.start()
        held.inside.acquire(timeout=30)
    assert ask(house, "192.0.2.1", CONTENT_LENGTH="9") == "503"
    assert ask(house, "192.0.2.1", HTTP_TRANSFER_ENCODING="chunked") == "503"
    assert ask(house, "192.0.2.1") == "200"
    held.goes_on.set()
    assert ask(house, "192.0.2.2", CONTENT_LENGTH="9") == "200"
    for one in senders:
        one.join()
    assert ask(house, "192.0.2.1", CONTENT_LENGTH="9") == "200"


def test_a_fault_of_a_view_holds_nothing() -> None:
    held = Held()
    held.goes_on.set()
    house = few_at_once(held)
    for _ in range(MOST_AT_ONCE + 1):
        with pytest.raises(RuntimeError):
            ask(house, "192.0.2.1", CONTENT_LENGTH="9", fails="yes")
    assert ask(house, "192.0.2.1", CONTENT_LENGTH="9") == "200"
