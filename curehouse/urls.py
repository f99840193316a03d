"""Every address of the house, and what is said where Django itself refuses or fails."""

import sys
from collections.abc import Callable
from functools import partial
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import include, path
from django.views import defaults

from api.errors import PROBLEM_TYPE, problem
from curehouse.common.busy import not_kept
from curehouse.web.errors import not_kept_page

urlpatterns = [
    path("api/", include("api.urls")),
    path("", include("curehouse.web.urls")),
]


def _by_door(page: Callable[..., HttpResponse], status: int, code: str, detail: str) -> Callable[..., HttpResponse]:
    """Return a handler that answers a device with a problem document and a person with a page."""

    def answer(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.path.startswith("/api/"):
            return JsonResponse(problem(status, code, detail), status=status, content_type=PROBLEM_TYPE)
        return page(request, *args, **kwargs)

    return answer


handler400 = _by_door(
    defaults.bad_request, 400, "bad_request", "The request cannot be read: check its address, its Host and its form."
)
_fault = _by_door(
    defaults.server_error, 500, "fault", "This is a fault of the house, not of the request: send it again in a while."
)


def handler500(request: HttpRequest) -> HttpResponse:
    """Answer a fault met outside every view, such as a session that can't be kept on a full disk."""
    error = sys.exception()
    said = None if error is None else not_kept(error)
    if said is None:
        return _fault(request)
    return _by_door(partial(not_kept_page, error=error), said.status, said.code, said.message)(request)
