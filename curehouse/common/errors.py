"""One error tree for every door: a code for machines, a sentence for people.

A service raises; ``web`` and ``api`` are the only translators. The sentence names the field and
what to do, in the maker's words, so that both doors can show it as it is.
"""

from typing import Any

# What odd rows may bring about in what is worked out: caught where one of them must not keep the others waiting.
FAULTS = (ArithmeticError, LookupError, TypeError, ValueError)


class DomainError(Exception):
    """Something asked for cannot be done as asked.

    ``code`` is stable and machine readable, ``message`` says what to do, ``field`` is the input
    it is about (as the service names it), ``data`` carries the figures behind the sentence.
    """

    status = 400

    def __init__(self, code: str, message: str, *, field: str | None = None, **data: Any) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.field = field
        self.data = data


class Invalid(DomainError):
    """A value that cannot be right."""


class NotHere(DomainError):
    """No such row in this workshop; a stranger's row is answered the same way."""

    status = 404


class Conflict(DomainError):
    """Right in itself, but not as things stand."""

    status = 409


class Forbidden(DomainError):
    """The person or the device may not do this."""

    status = 403


class TooMany(DomainError):
    """Tried so often that it is not looked at for a while; ``data["wait_seconds"]`` says how long."""

    status = 429


class Gone(DomainError):
    """It was here, and is no more."""

    status = 410
