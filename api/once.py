"""A request that is sent again under its key is done once, and answered alike to the byte.

The ``Idempotency-Key`` header as the IETF draft of that name lays it down
(draft-ietf-httpapi-idempotency-key-header-07): a string of RFC 8941, section 3.3.3; another request
under a used key is answered 422, the same while the first one is still under way 409. The header
may be left out. Only what was done is kept: a refused request leaves nothing, so it may be mended
and sent again under its key. The work and its answer are written in one transaction.
"""

import hashlib
import re
from collections.abc import Callable, Iterator
from typing import Any

from django.core.exceptions import RequestDataTooBig
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.http import HttpResponse
from rest_framework.exceptions import APIException
from rest_framework.request import Request
from rest_framework.response import Response

from api.parsers import TooLarge
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import Underway, alone
from curehouse.common.uploads import fingerprint_of
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Submission
from curehouse.workshops.services import SUBMISSIONS_KEPT_FOR, begin_submission, finish_submission

HEADER = "Idempotency-Key"
LONGEST_KEY = 128
# Printable ASCII between quotes; a quote or a backslash within stands after a backslash.
_STRING = r'"(?:[ !#-\[\]-~]|\\["\\])+"'
_KEY = re.compile(_STRING)
_KEPT_HEADERS = ("Location",)
_SUCCESS = range(200, 300)
_WAIT_SECONDS = 2

PARAMETER: dict[str, Any] = {
    "name": HEADER,
    "in": "header",
    "required": False,
    "schema": {"type": "string", "minLength": 3, "maxLength": LONGEST_KEY, "pattern": f"^{_STRING}$"},
    "example": '"8e03978e-40d5-43e8-bc93-6894a57f9324"',
    "description": (
        "A text of your own in double quotes, such as a UUID, once for each thing to be done. Sent again with the same"
        " key, the request is not done again but answered as the first time, to the byte; so after a fault on the way"
        " it can be sent until an answer comes. What is refused is not kept: mend it and send it under the same key."
        " Another request under a key that was used is answered `key_used` (422), the same one while the first is"
        " still under way `key_underway` (409, with Retry-After). A key is known for"
        f" {SUBMISSIONS_KEPT_FOR.days} days, to the device or person who sent it."
        " (IETF draft: The Idempotency-Key HTTP Header Field.)"
    ),
}


class KeyUsed(APIException):
    """Another request came in under this key."""

    status_code = 422
    default_code = "key_used"
    default_detail = f"Something else was sent under this {HEADER} before: send it under a new key."


class KeyUnderway(APIException):
    """The first request under this key has not ended."""

    status_code = 409
    default_code = "key_underway"
    default_detail = f"The first request under this {HEADER} is still under way: send it again in a few seconds."
    wait = _WAIT_SECONDS


def key_of(request: Request) -> str | None:
    """Return the request's key as it stands in the header, or None where it has none."""
    text = request.headers.get(HEADER)
    if text is None:
        return None
    if len(text) > LONGEST_KEY or not _KEY.fullmatch(text.strip()):
        raise Invalid(
            "key",
            f"{HEADER}: send a text in double quotes, of at most {LONGEST_KEY} characters (no umlauts), such as"
            ' "8e03978e-40d5-43e8-bc93-6894a57f9324".',
        )
    return text.strip()


def once(request: Request, actor: Actor, key: str, at: Any, work: Callable[[], Response]) -> HttpResponse:
    """Do *work* and keep its answer under *key*, or answer as when it was done."""
    whose = f"d{actor.device.pk}" if actor.device else f"u{actor.user.pk}"
    kept_under = f"{whose}:{hashlib.sha256(key.encode()).hexdigest()}"
    content = b"\n".join(_content(request))
    try:
        with alone(f"submission {actor.workshop.pk} {kept_under}"):
            submission = _begun(actor, kept_under, content, at)
            if submission.answer is None:
                response = work()
                if response.status_code not in _SUCCESS:
                    transaction.set_rollback(True)
                    return response
                finish_submission(submission=submission, answer=_answer(request, response))
    except Underway as error:
        raise KeyUnderway from error
    return _as_answered(submission.answer)


def _begun(actor: Actor, key: str, content: bytes, at: Any) -> Submission:
    try:
        submission, _fresh = begin_submission(workshop=actor.workshop, key=key, content=content, at=at)
    except Conflict as error:
        raise KeyUsed from error
    return submission


def _content(request: Request) -> Iterator[bytes]:
    """Yield what makes this request this one: what it asks for, of which address, with which body."""
    yield f"{request.method} {request.get_full_path()}".encode()
    if request.content_type.startswith("multipart/"):
        # Each time it is sent its parts stand between other marks.
        for name, values in sorted(request.data.lists()):
            for value in values:
                yield from (name.encode(), _part(value))
        return
    yield request.content_type.encode()
    try:
        yield request.body
    except RequestDataTooBig as error:
        raise TooLarge from error


def _part(value: Any) -> bytes:
    if not isinstance(value, UploadedFile):
        return str(value).encode()
    return fingerprint_of(value).encode()


def _answer(request: Request, response: Response) -> dict[str, Any]:
    renderer = request.accepted_renderer
    body = renderer.render(response.data, request.accepted_media_type, {}).decode()
    headers = {name: response[name] for name in _KEPT_HEADERS if response.has_header(name)}
    return {"status": response.status_code, "body": body, "content_type": renderer.media_type, "headers": headers}


def _as_answered(answer: dict[str, Any]) -> HttpResponse:
    return HttpResponse(
        answer["body"], status=answer["status"], content_type=answer["content_type"], headers=answer["headers"]
    )  # fmt: skip
