"""The one translator from the house's errors to pages."""

import logging
from collections.abc import Callable

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from curehouse.common.errors import DomainError

logger = logging.getLogger(__name__)


def add_to_form(form: forms.Form, error: DomainError) -> None:
    """Put *error*'s sentence beside the field it names, or above the form."""
    form.add_error(error.field if error.field in form.fields else None, error.message)


class DomainErrorMiddleware:
    """Answer a :class:`DomainError` no form took care of with a page that says what to do."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Translate; anything else goes on to Django."""
        if not isinstance(exception, DomainError) or request.path.startswith("/api/"):
            return None
        logger.info("refused: code=%s path=%s", exception.code, request.path)
        return render(request, "web/refused.html", {"error": exception}, status=exception.status)
