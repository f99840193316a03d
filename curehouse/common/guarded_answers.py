"""What every answer of the house says beside its content: who may keep it, and what its page may use."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# Not one of these is used by a page of the house; whoever gets a foot into one shall not either.
_UNUSED = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
)
PERMISSIONS_POLICY = ", ".join(f"{feature}=()" for feature in _UNUSED)


class GuardedAnswersMiddleware:
    """Stands behind the static files, which say themselves how long they keep."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Say it, unless the view said something else."""
        answer = self.get_response(request)
        answer.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        answer.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        # A workshop's figures are not left in the memory of a browser that is used by others too.
        answer.headers.setdefault("Cache-Control", "no-store, private")
        return answer
