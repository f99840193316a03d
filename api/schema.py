"""What the OpenAPI schema says beside the views' own words: how anything is refused, and done once."""

from typing import Any

from api.errors import PROBLEM_TYPE
from api.once import PARAMETER

_TEXT = {"type": "string"}
_ERROR = {
    "type": "object",
    "required": ["code", "detail"],
    "properties": {
        "row": {"type": "integer", "description": "The row, counted from 0, where many were sent."},
        "field": {"type": "string", "nullable": True, "description": "The field; parts of nested ones with points between."},
        "code": _TEXT,
        "detail": _TEXT,
    },
}
PROBLEM = {
    "type": "object",
    "description": "Problem details (RFC 9457). A program acts on `code`, a person reads `detail`.",
    "required": ["type", "title", "status", "detail", "code"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": _TEXT,
        "status": {"type": "integer"},
        "detail": _TEXT,
        "code": _TEXT,
        "field": {"type": "string", "description": "The input it is about, where it is one."},
        "errors": {"type": "array", "items": _ERROR},
        "data": {"type": "object", "additionalProperties": True, "description": "The figures behind the sentence."},
    },
}


_CONTENT = {PROBLEM_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
REFUSED = {"description": "Refused.", "content": _CONTENT}
BRAKED = {
    "description": "From this address came so many tokens that open nothing that none of those is looked at for a while"
    " (`too_many_tries`). A token that opens something is never held up.",
    "headers": {
        "Retry-After": {
            "description": "In how many seconds a token is looked at again.",
            "required": True,
            "schema": {"type": "integer", "minimum": 1},
        }
    },
    "content": _CONTENT,
}


def describe_problems(result: dict[str, Any], **_how: Any) -> dict[str, Any]:
    """Add the problem to every operation as its answer to whatever it refuses, and its key to every POST."""
    result["components"]["schemas"]["Problem"] = PROBLEM
    for operations in result["paths"].values():
        for method, operation in operations.items():
            operation["responses"] |= {"default": REFUSED, "429": BRAKED}
            if method == "post":
                operation.setdefault("parameters", []).append(PARAMETER)
    return result
