"""No address keeps all of a house's threads waiting for the rest of what it sends.

A thread that serves a request waits where its body does not come, and the server sets no end to that. So of one
address only a few requests that bring something are taken at a time; the others are sent away unread.
"""

from collections import Counter
from collections.abc import Callable, Iterable
from threading import Lock
from typing import Any

from curehouse.common.visitors import address_block, remote_address

# As many as a browser opens to one house.
MOST_AT_ONCE = 6
_HEADERS = [
    ("Content-Type", "text/plain; charset=utf-8"),
    ("Retry-After", "5"),
    ("Cache-Control", "no-store"),
    ("X-Content-Type-Options", "nosniff"),
]
_SAID = b"Much is under way from your address at once: send this again in a few seconds.\n"

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


def few_at_once(application: Application) -> Application:
    """Return *application*, to which an address sends at most :data:`MOST_AT_ONCE` things at a time."""
    under_way: Counter[str] = Counter()
    lock = Lock()

    def serve(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        brings_nothing = environ.get("CONTENT_LENGTH") in (None, "", "0") and "HTTP_TRANSFER_ENCODING" not in environ
        if brings_nothing:
            return application(environ, start_response)
        source = address_block(remote_address(environ))
        with lock:
            is_taken = under_way[source] < MOST_AT_ONCE
            under_way[source] += is_taken
        if not is_taken:
            start_response("503 Service Unavailable", _HEADERS)
            return [_SAID]
        try:
            # What is answered is made of what was read: that is over when this returns.
            return application(environ, start_response)
        finally:
            with lock:
                under_way[source] -= 1
                if not under_way[source]:
                    del under_way[source]

    return serve
