"""A URL table with mistakes, on which the tests of addresses must fail."""

from django.http import HttpRequest, HttpResponse
from django.urls import path

from curehouse.curing.models import Rack


def unguarded(request: HttpRequest, pk: int) -> HttpResponse:
    """Show any rack to anybody."""
    return HttpResponse(Rack.unscoped.get(pk=pk).name)


urlpatterns = [
    path("racks/<int:pk>/bare/", unguarded, name="bare"),
    path("cellars/<int:pk>/", unguarded, name="unknown"),
    path("racks/<slug:name>/", unguarded, name="slug"),
]
