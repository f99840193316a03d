"""Reading a request's JSON."""

import json
import re
from decimal import Decimal
from typing import Any, NoReturn

from django.conf import settings
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import BaseParser

_HALF_CHARACTER = re.compile(r"\\u[dD][89a-fA-F]")


class TooLarge(APIException):
    """A body larger than the house reads at a time."""

    status_code = 413
    default_code = "too_large"
    default_detail = f"The request is larger than {settings.DATA_UPLOAD_MAX_MEMORY_SIZE} bytes: send it in parts."


class ExactJSONParser(BaseParser):
    """Strict JSON whose fractions stay the figures that were sent, not the nearest binary ones."""

    media_type = "application/json"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        """Return the body as Python values; fractions are ``Decimal``."""
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        body = stream.read(most + 1)
        if len(body) > most:
            raise TooLarge
        try:
            text = body.decode("utf-8")
            value = json.loads(text, parse_float=Decimal, parse_constant=_refuse_constant)
            if _HALF_CHARACTER.search(text):
                # Half a character can be written in JSON, and neither stored nor sent back.
                json.dumps(value, ensure_ascii=False, default=str).encode("utf-8")
            return value
        except (ValueError, RecursionError) as error:
            raise ParseError(f"The request is not JSON as it should be: {_why(error)}.") from error


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number in JSON")


def _why(error: Exception) -> str:
    if isinstance(error, RecursionError):
        return "it is nested too deeply"
    if isinstance(error, UnicodeDecodeError):
        return "it is not UTF-8"
    if isinstance(error, UnicodeEncodeError):
        return "it holds half of a character"
    return str(error)[:120]
