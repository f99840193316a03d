"""Every address of the house, and what is said where Django itself refuses or fails."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import include, path
from django.views import defaults

from api.errors import PROBLEM_TYPE, problem

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
handler500 = _by_door(
    defaults.server_error, 500, "fault", "This is a fault of the house, not of the request: send it again in a while."
)
