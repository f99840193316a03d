"""One address holds a few threads and no more, and is let in again once they are free."""

import gc
import json
import threading
from collections.abc import Iterable, Iterator
from typing import Any

import pytest

from curehouse.common.few_at_once import MOST_AT_ONCE, SHORT_BYTES, few_at_once


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
        if environ.get("long"):
            start_response("200 OK", [("Content-Length", str(SHORT_BYTES + 1))])
            return LongAnswer()
        start_response("200 OK", [("Content-Length", "4")])
        return [b"done"]


class LongAnswer:
    """An answer with an end nobody comes to, which knows whether it was closed."""

    closed = 0

    def __iter__(self) -> Iterator[bytes]:
        while True:
            yield b"more"

    def close(self) -> None:
        LongAnswer.closed += 1


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


def begin(application: Any, source: str, **environ: str) -> tuple[str, dict[str, str], Any]:
    """Ask and read nothing of the answer; return its status, headers and parts."""
    said: list[Any] = []
    parts = application({"REMOTE_ADDR": source, **environ}, lambda *start: said.append(start))
    ((status, headers),) = said
    return status[:3], dict(headers), parts


def free_house() -> Any:
    held = Held()
    held.goes_on.set()
    return few_at_once(held)


def test_long_answers_that_are_not_read_hold_a_few_places() -> None:
    house = free_house()
    unread = [begin(house, "192.0.2.1", long="yes") for _ in range(MOST_AT_ONCE)]
    assert {status for status, _headers, _parts in unread} == {"200"}
    closed = LongAnswer.closed
    assert begin(house, "192.0.2.1", long="yes")[0] == "503"
    assert LongAnswer.closed == closed + 1, "what is refused is closed"
    assert ask(house, "192.0.2.1", CONTENT_LENGTH="9") == "503"
    assert ask(house, "192.0.2.1") == "200", "a short answer holds no thread"
    assert begin(house, "192.0.2.2", long="yes")[0] == "200"
    unread[0][2].close()
    unread[0][2].close()
    assert LongAnswer.closed > closed + 1
    again = begin(house, "192.0.2.1", long="yes")
    assert again[0] == "200"
    assert begin(house, "192.0.2.1", long="yes")[0] == "503", "closed twice gives one place back"


def test_an_answer_the_server_dropped_gives_its_place_back() -> None:
    house = free_house()
    for _ in range(MOST_AT_ONCE + 1):
        assert begin(house, "192.0.2.1", long="yes")[0] == "200"
        gc.collect()


def test_what_brings_something_holds_its_place_until_its_long_answer_is_read() -> None:
    house = free_house()
    unread = [begin(house, "192.0.2.1", long="yes", CONTENT_LENGTH="9") for _ in range(MOST_AT_ONCE)]
    assert begin(house, "192.0.2.1", long="yes")[0] == "503"
    for _status, _headers, parts in unread:
        parts.close()
    assert begin(house, "192.0.2.1", long="yes")[0] == "200"


def test_a_short_answer_is_handed_over_whole_and_one_without_a_length_is_not() -> None:
    def application(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        start_response(environ["status"], [("content-length", environ["length"])] if "length" in environ else [])
        return (part for part in (b"a", b"b"))

    house = few_at_once(application)
    assert begin(house, "192.0.2.1", status="200 OK", length="2")[2] == [b"a", b"b"]
    assert begin(house, "192.0.2.1", status="304 Not Modified")[2] == [b"a", b"b"]
    assert not isinstance(begin(house, "192.0.2.1", status="200 OK")[2], list)


def test_the_refusal_says_what_to_do_to_a_program_and_to_a_person() -> None:
    house = free_house()
    _unread = [begin(house, "192.0.2.1", long="yes") for _ in range(MOST_AT_ONCE)]
    _status, headers, parts = begin(house, "192.0.2.1", long="yes", PATH_INFO="/api/v1/batches/")
    assert headers["Content-Type"] == "application/problem+json"
    said = json.loads(b"".join(parts))
    assert (said["status"], said["title"], said["code"]) == (503, "Service Unavailable", "much_at_once")
    assert "Wait 5 seconds" in said["detail"]
    _status, headers, parts = begin(house, "192.0.2.1", CONTENT_LENGTH="9", PATH_INFO="/batches/new/")
    assert headers["Content-Type"].startswith("text/html")
    assert headers["Retry-After"] == "5"
    assert "then send it again or load the page again" in b"".join(parts).decode()
