"""Reading a request's JSON, and its files."""

import json
import re
from decimal import Decimal
from typing import Any, NoReturn

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, SuspiciousOperation
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import BaseParser, MultiPartParser

_HALF_CHARACTER = re.compile(r"\\u[dD][89a-fA-F]")


class TooLarge(APIException):
    """A body larger than the house reads at a time."""

    status_code = 413
    default_code = "too_large"
    default_detail = f"The request is larger than {settings.DATA_UPLOAD_MAX_MEMORY_SIZE} bytes: send it in parts."


# What a form of a few fields takes beside its file.
_BESIDE_THE_FILE_BYTES = 64 * 1024


class FilesParser(MultiPartParser):
    """multipart/form-data, for a view that says how large its files may be together (``most_bytes``), and how many it takes."""

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        """Return the fields and the files, which end with the request; what is too large is refused before it is read."""
        most = parser_context["view"].most_bytes
        length = str(parser_context["request"].META.get("CONTENT_LENGTH") or "0")
        if length.isdigit() and int(length) > most + _BESIDE_THE_FILE_BYTES:
            files = getattr(parser_context["view"], "most_files", 1)
            each = f"{most // files // 2**20} MB"
            raise TooLarge(
                f"The file is larger than {each}: keep it to that."
                if files == 1
                else f"The files are larger than they may be: keep each to {each}, and send no more than {files}."
            )
        try:
            return super().parse(stream, media_type, parser_context)
        except RequestDataTooBig as error:
            raise TooLarge from error
        except SuspiciousOperation as error:
            raise ParseError("The request has more fields or files than this address takes: send one of each.") from error
        except (ParseError, UnicodeError) as error:
            raise ParseError("The request is not multipart/form-data as it should be: check its boundary.") from error


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
