"""The one translator from errors to answers: problem details as RFC 9457 lays down.

``type`` is left at ``about:blank``: what a program can act on is ``code``, what a person reads is
``detail``. ``field`` is the input it is about, ``errors`` lists several, ``data`` carries figures.
"""

import logging
from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.signals import got_request_exception
from django.http import Http404, JsonResponse
from django.views.decorators.csrf import csrf_exempt
from rest_framework import exceptions
from rest_framework.renderers import JSONRenderer
from rest_framework.response import Response
from rest_framework.views import set_rollback

from curehouse.common.busy import not_kept, waiting_headers
from curehouse.common.errors import DomainError, Invalid
from curehouse.flows.weigh_many import RowFault, RowsRefused

logger = logging.getLogger(__name__)

PROBLEM_TYPE = "application/problem+json"
# Of several faults these are named in the sentence; all of them are in `errors`.
_MOST_NAMED = 3
_CODES = {
    exceptions.ParseError: "malformed",
    exceptions.NotAuthenticated: "not_authenticated",
    exceptions.NotFound: "not_here",
}


class ProblemRenderer(JSONRenderer):
    """JSON that says it is a problem."""

    media_type = PROBLEM_TYPE
    charset = None


def problem(status: int, code: str, detail: str, **more: Any) -> dict[str, Any]:
    """Return the members of a problem; those in *more* that are None are left out."""
    members = {"type": "about:blank", "title": HTTPStatus(status).phrase, "status": status, "detail": detail, "code": code}
    return members | {name: value for name, value in more.items() if value is not None}


def problem_response(error: Exception, context: Mapping[str, Any]) -> Response:
    """Return the answer to *error* (REST framework's exception handler)."""
    request, view = context.get("request"), context.get("view")
    set_rollback()
    headers: dict[str, str] = {}
    if isinstance(error, DomainError):
        body, headers = _of_domain_error(error, getattr(view, "field_names", {})), waiting_headers(error)
    else:
        body, headers = _of_framework_error(error, request)
    response = Response(body, status=body["status"], content_type=PROBLEM_TYPE, headers=headers)
    response.exception = True
    if request is not None:
        # The renderer asked for may be one that cannot show a problem.
        request.accepted_renderer, request.accepted_media_type = ProblemRenderer(), PROBLEM_TYPE
    return response


@csrf_exempt
def nothing_here(request: Any, rest: str = "") -> JsonResponse:
    """Answer an address under /api/ that leads nowhere."""
    hint = "" if request.path.endswith("/") else " Addresses end with a slash."
    body = problem(404, "no_such_address", f"There is nothing at this address.{hint}")
    return JsonResponse(body, status=404, content_type=PROBLEM_TYPE)


def row_faults(row: int, error: exceptions.ValidationError) -> list[RowFault]:
    """Return what is wrong with one row of many, as the verb for many rows says it."""
    members = _each(error.get_full_details(), ())
    return [RowFault(row, Invalid(one["code"], one["detail"], field=one.get("field"))) for one in members]


def _of_domain_error(error: DomainError, field_names: Mapping[str, str | None]) -> dict[str, Any]:
    logger.info("refused: code=%s", error.code)
    if isinstance(error, RowsRefused):
        rows = [{"row": fault.row, **_member(fault.error, field_names)} for fault in error.faults]
        return problem(error.status, error.code, error.message, errors=rows)
    field = field_names.get(error.field, error.field)
    return problem(error.status, error.code, error.message, field=field, data=error.data or None)


def _member(error: DomainError, field_names: Mapping[str, str | None]) -> dict[str, Any]:
    return {"field": field_names.get(error.field, error.field), "code": error.code, "detail": error.message}


def _of_framework_error(error: Exception, request: Any) -> tuple[dict[str, Any], dict[str, str]]:
    if isinstance(error, Http404):
        error = exceptions.NotFound("There is no such thing in this workshop.")
    elif isinstance(error, PermissionDenied):
        error = exceptions.PermissionDenied()
    if not isinstance(error, exceptions.APIException):
        said = not_kept(error)
        if said is not None:
            logger.error("not kept: code=%s", said.code, exc_info=error)
            return problem(said.status, said.code, said.message), waiting_headers(said)
        return _of_mistake(error, request), {}
    headers = {}
    if getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = error.auth_header
    if getattr(error, "wait", None):
        headers["Retry-After"] = str(int(error.wait))
    if isinstance(error, exceptions.ValidationError):
        return _of_validation(error), headers
    code = _CODES.get(type(error)) or error.get_codes()
    return problem(error.status_code, code, str(error.detail)), headers


def _of_mistake(error: Exception, request: Any) -> dict[str, Any]:
    """Answer a mistake of ours in words; the traceback goes to the log, and to Django's own signal."""
    got_request_exception.send(sender=None, request=getattr(request, "_request", request))
    logger.error("failed: %s", type(error).__name__, exc_info=error)
    return problem(500, "failed", "Something went wrong in the house; nothing of this request was kept. It is in the log.")


def _of_validation(error: exceptions.ValidationError) -> dict[str, Any]:
    errors = list(_each(error.get_full_details(), ()))
    first = errors[0]
    if len(errors) == 1:
        return problem(error.status_code, first["code"], _said(first), field=first.get("field"), errors=errors)
    named = [_said(one).removesuffix(".") for one in errors[:_MOST_NAMED]]
    if len(errors) > _MOST_NAMED:
        named.append(f"and {len(errors) - _MOST_NAMED} more")
    detail = f"{len(errors)} things in this request cannot be taken: {'; '.join(named)}."
    return problem(error.status_code, "invalid", detail, errors=errors)


def _said(member: Mapping[str, Any]) -> str:
    """Return one fault as a sentence that begins with its field."""
    return f"{member['field']}: {member['detail']}" if member.get("field") else str(member["detail"])


def _each(details: Any, path: tuple[str, ...]) -> Iterator[dict[str, Any]]:
    """Yield the errors of a nested validation one by one, each with the path of its field."""
    if isinstance(details, list):
        for index, one in enumerate(details):
            is_leaf = isinstance(one, Mapping) and "message" in one and isinstance(one["message"], str)
            yield from _each(one, path if is_leaf else (*path, str(index)))
    elif "message" in details and isinstance(details["message"], str):
        where = {"field": ".".join(path)} if path else {}
        yield {**where, "code": details["code"], "detail": str(details["message"])}
    else:
        for name, one in details.items():
            yield from _each(one, path if name == "non_field_errors" else (*path, str(name)))
