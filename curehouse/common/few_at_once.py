"""No address keeps all of a house's threads waiting for what it sends, nor for its reading of what it is sent.

A thread that serves a request waits where its body does not come, and where its answer is not read, and the server sets
no end to either. So of one address only a few requests that bring something, and a few long answers, are under way at a
time; the others are sent away. A short answer is handed over whole, so that no thread waits for whoever reads it.
"""

import json
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from http import HTTPStatus
from threading import Lock
from typing import Any

from curehouse.common.visitors import address_block, remote_address

# As many as a browser opens to one house.
MOST_AT_ONCE = 6
# With as many connections as the server holds (512), what is handed over and not read takes 128 MB at the most.
SHORT_BYTES = 256 * 2**10
RETRY_AFTER_SECONDS = 5
_SAID = (
    "Much is under way from your address at once, so this was not done. "
    f"Wait {RETRY_AFTER_SECONDS} seconds, then send it again or load the page again."
)

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


class Places:
    """How much is under way from each address."""

    def __init__(self) -> None:
        self._taken: Counter[str] = Counter()
        self._lock = Lock()

    def take(self, source: str) -> Callable[[], None] | None:
        """Return what gives the place back, however often it is called, or None where all are taken."""
        with self._lock:
            if self._taken[source] >= MOST_AT_ONCE:
                return None
            self._taken[source] += 1
        held = [source]

        def leave() -> None:
            with self._lock:
                if held:
                    self._taken[held.pop()] -= 1
                    self._taken += Counter()  # forgets those that have nothing under way

        return leave


class HeldAnswer:
    """An answer that holds its place until the server closes it, or lets it go, because its reader is gone."""

    def __init__(self, answer: Iterable[bytes], leave: Callable[[], None]) -> None:
        self._answer, self._leave = answer, leave
        self._parts = iter(answer)

    def __iter__(self) -> Iterator[bytes]:
        return self

    def __next__(self) -> bytes:
        return next(self._parts)

    def close(self) -> None:
        """Close the answer and give its place back."""
        try:
            _close(self._answer)
        finally:
            self._leave()

    def __del__(self) -> None:
        self._leave()


def few_at_once(application: Application) -> Application:
    """Return *application*, of which an address has at most :data:`MOST_AT_ONCE` things under way that it can draw out."""
    places = Places()

    def serve(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        source = address_block(remote_address(environ))
        leave = None
        if _brings_something(environ):
            leave = places.take(source)
            if leave is None:
                return _refusal(environ, start_response)
        begun: list[Any] = []
        try:
            answer = application(environ, lambda *said: begun.append(said))
            short = _is_short(*begun[-1][:2])
            parts = _whole(answer) if short else None
        except BaseException:
            if leave is not None:
                leave()
            raise
        if parts is not None:
            if leave is not None:
                leave()
            start_response(*begun[-1])
            return parts
        leave = leave or places.take(source)
        if leave is None:
            _close(answer)
            return _refusal(environ, start_response)
        start_response(*begun[-1])
        return HeldAnswer(answer, leave)

    return serve


def _brings_something(environ: dict[str, Any]) -> bool:
    return environ.get("CONTENT_LENGTH") not in (None, "", "0") or "HTTP_TRANSFER_ENCODING" in environ


def _is_short(status: str, headers: list[tuple[str, str]]) -> bool:
    """Return whether an answer has no body or a short one; one that does not say its length may be long."""
    if status.startswith(("204", "304")):
        return True
    length = next((value for name, value in headers if name.lower() == "content-length"), None)
    return length is not None and int(length) <= SHORT_BYTES


def _whole(answer: Iterable[bytes]) -> list[bytes]:
    try:
        return list(answer)
    finally:
        _close(answer)


def _close(answer: Iterable[bytes]) -> None:
    close = getattr(answer, "close", None)
    if close is not None:
        close()


def _refusal(environ: dict[str, Any], start_response: Callable[..., Any]) -> list[bytes]:
    """Answer that it is too much at once: to programs in their form (RFC 9457), to people on a page."""
    status = HTTPStatus.SERVICE_UNAVAILABLE
    if environ.get("PATH_INFO", "").startswith("/api/"):
        kind = "application/problem+json"
        problem = {"type": "about:blank", "title": status.phrase, "status": status, "detail": _SAID, "code": "much_at_once"}
        body = json.dumps(problem)
    else:
        kind = "text/html; charset=utf-8"
        body = (
            f'<!doctype html>\n<html lang="en"><title>Too much at once</title><h1>Too much at once</h1><p>{_SAID}</p></html>\n'
        )
    headers = [
        ("Content-Type", kind),
        ("Retry-After", str(RETRY_AFTER_SECONDS)),
        ("Cache-Control", "no-store"),
        ("X-Content-Type-Options", "nosniff"),
        ("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'"),
    ]
    start_response(f"{status.value} {status.phrase}", headers)
    return [body.encode()]
