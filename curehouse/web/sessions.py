"""Sessions as requests bring them: each knows where its request comes from, and is noted as seen."""

from django.contrib.sessions.middleware import SessionMiddleware
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from curehouse.common.visitors import origin_of


class PersonSessionMiddleware(SessionMiddleware):
    """Django's own, around the house's sessions."""

    def process_request(self, request: HttpRequest) -> None:
        """Hand the request its session."""
        super().process_request(request)
        request.session.origin = origin_of(request.META)

    def process_response(self, request: HttpRequest, response: HttpResponse) -> HttpResponse:
        """Keep what changed of the session; note that it was seen."""
        answer = super().process_response(request, response)
        request.session.note_seen(timezone.now())
        return answer
