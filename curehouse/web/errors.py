"""The one translator from the house's errors to pages."""

import logging
from collections.abc import Callable

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from curehouse.common.busy import not_kept, waiting_headers
from curehouse.common.errors import DomainError
from curehouse.making.models import Batch

# How a batch is found from the number in an address, by the room the address begins with.
_TO_BATCH = {
    "batches": "pk",
    "round": "sample_bars__pk",
    "sample-bars": "sample_bars__pk",
    "readings": "sample_bars__readings__pk",
}

logger = logging.getLogger(__name__)


def add_to_form(form: forms.Form, error: DomainError) -> None:
    """Put *error*'s sentence beside the field it names, or above the form where that is none that is seen."""
    is_seen = error.field in form.fields and not form.fields[error.field].widget.is_hidden
    form.add_error(error.field if is_seen else None, error.message)


def not_kept_page(request: HttpRequest, error: BaseException) -> HttpResponse | None:
    """Return the page that says the disk is full or the database busy if *error* says so, or None."""
    said = not_kept(error)
    if said is None:
        return None
    logger.error("not kept: code=%s path=%s", said.code, request.path, exc_info=error)
    return _with(render(request, "web/refused.html", {"error": said}, status=said.status), waiting_headers(said))


def _with(answer: HttpResponse, headers: dict[str, str]) -> HttpResponse:
    for name, value in headers.items():
        answer[name] = value
    return answer


class DomainErrorMiddleware:
    """Answer a :class:`DomainError` no form took care of with a page that says what to do."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Translate; anything else goes on to Django."""
        if request.path.startswith("/api/"):
            return None
        if not isinstance(exception, DomainError):
            return not_kept_page(request, exception)
        logger.info("refused: code=%s path=%s", exception.code, request.path)
        shown = {"error": exception, "batch": _batch_of(request)}
        return render(request, "web/refused.html", shown, status=exception.status)


def _batch_of(request: HttpRequest) -> Batch | None:
    """Return the batch that a refused request is about, for the way back; None where it is about none of this workshop."""
    visit, match = getattr(request, "visit", None), request.resolver_match
    if visit is None or match is None or "pk" not in match.kwargs:
        return None
    room = match.route.split("/", 1)[0]
    if room not in _TO_BATCH:
        return None
    batches = Batch.objects.within(visit.workshop).select_related("formula")
    return batches.filter(**{_TO_BATCH[room]: match.kwargs["pk"]}).first()
