"""A URL table with mistakes that the tests of every address must find."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.clickjacking import xframe_options_exempt
from django.views.decorators.csrf import csrf_exempt
from rest_framework.authentication import SessionAuthentication
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView


class Trusting(SessionAuthentication):
    """Takes a browser's word for it."""

    def enforce_csrf(self, request: Any) -> None:
        """Ask for nothing."""


class Resource(APIView):
    """Does what a browser is made to ask for elsewhere."""

    authentication_classes = (Trusting,)
    permission_classes = ()

    def post(self, request: Request) -> Response:
        """Do it."""
        return Response("done")


@csrf_exempt
def forged(request: HttpRequest) -> HttpResponse:
    """Do what is asked by a form of anybody's."""
    return HttpResponse("done")


@xframe_options_exempt
def framed(request: HttpRequest) -> HttpResponse:
    """Be shown within another page."""
    answer = HttpResponse("shown", headers={"Content-Security-Policy": "default-src 'self'"})
    del answer.headers["X-Content-Type-Options"]
    return answer


def echoed(request: HttpRequest) -> HttpResponse:
    """Believe what a request says of where it was sent."""
    return HttpResponse(f"https://{request.headers.get('X-Forwarded-Host')}/")


urlpatterns = [
    path("forged/", forged, name="forged"),
    path("framed/", framed, name="framed"),
    path("echoed/", echoed, name="echoed"),
    path("api/forged/", Resource.as_view(), name="resource"),
]
