"""A watch at the door of every test: what a request writes is noted in the trail, once, or the test fails.

It stands among the middleware of the tests' settings, so each page and each address of the API that any
test asks for is held to it, those that are yet to be written too.
"""

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.apps import apps
from django.db import connection
from django.http import HttpRequest, HttpResponse

from curehouse.curing.models import RoomDay, RoomReading
from curehouse.workshops.models import AuditEntry, DeviceToken, DoorCount, PersonSession, Submission

_WRITES = re.compile(r'^\s*(INSERT INTO|UPDATE|DELETE FROM)\s+"(\w+)"')
_SAVEPOINT = re.compile(r'^(SAVEPOINT|ROLLBACK TO SAVEPOINT|RELEASE SAVEPOINT) "(\w+)"')
_TRAIL = AuditEntry._meta.db_table
_OURS = {
    model._meta.db_table
    for model in apps.get_models()
    # A session says where somebody is signed in, and a count how often somebody tried: neither is a deed.
    if model.__module__.partition(".")[0] in {"curehouse", "inventory", "api"} and model not in (PersonSession, DoorCount)
}
# What a request may write without a deed of somebody's, and why.
_NO_DEED = {
    DeviceToken._meta.db_table: ("UPDATE", "when a device was last seen"),
    Submission._meta.db_table: ("INSERT INTO", "the key of a form that is found to be sent twice"),
}
# Of a sensor the first of a day is noted: its readings are signed and kept for good by themselves.
_SENSED = re.compile(r"^/api/v1/rooms/\d+/readings/(bulk/)?$")
_LOG = {("INSERT INTO", RoomReading._meta.db_table), *((verb, RoomDay._meta.db_table) for verb in ("INSERT INTO", "UPDATE"))}


class Writes:
    """What a request has written and not taken back."""

    def __init__(self) -> None:
        self.so_far: list[tuple[str, str]] = []
        self._marks: dict[str, int] = {}

    def __call__(self, execute: Callable, sql: str, params: Any, many: bool, context: dict) -> Any:
        if found := _SAVEPOINT.match(sql):
            verb, name = found.groups()
            if verb == "SAVEPOINT":
                self._marks[name] = len(self.so_far)
            elif verb.startswith("ROLLBACK"):
                del self.so_far[self._marks[name] :]
        elif (found := _WRITES.match(sql)) and found[2] in _OURS:
            self.so_far.append((found[1], found[2]))
        return execute(sql, params, many, context)

    @property
    def deeds(self) -> list[tuple[str, str]]:
        """Return the writes that somebody must answer for."""
        return [
            (verb, table)
            for verb, table in self.so_far
            if table != _TRAIL and not (table in _NO_DEED and _NO_DEED[table][0] == verb)
        ]

    @property
    def notes(self) -> int:
        """Return how many times the trail was written to."""
        return sum(table == _TRAIL for _verb, table in self.so_far)


class WatchTheTrail:
    """Fail where a request wrote something and did not note it once, or noted what it did not do."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # Only within a test's own transaction are all of a request's rollbacks seen.
        if not connection.in_atomic_block:
            return self.get_response(request)
        writes = Writes()
        with connection.execute_wrapper(writes):
            response = self.get_response(request)
        if writes.deeds or writes.notes:
            said = f"{request.method} {request.path} wrote {writes.deeds}"
            if _SENSED.match(request.path) and writes.notes == 0 and set(writes.deeds) <= _LOG:
                return response
            assert writes.notes == 1, f"{said} and noted it {writes.notes} times in the trail, not once"
        return response


class WatchTheWayOut:
    """Fail where an answer sends a browser to another house."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        location = response.headers.get("Location", "")
        # The API says where what it made lies, with the house's own name in front.
        host = urlsplit(location.replace("\\", "/")).netloc
        assert host in ("", request.META.get("HTTP_HOST", request.META["SERVER_NAME"])), (
            f"{request.path} leads away: {location}"
        )
        return response
