"""Where to go once something is done: back to the page that led here."""

from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme


def next_page(request: HttpRequest, *, otherwise: str) -> str:
    """Return the page that ``next`` names, if it is one of this house, or *otherwise*."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    here = url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure())
    return wanted if here else otherwise


def address_with_way_back(name: str, *, back: str) -> str:
    """Return the address of the page *name*, which leads back to *back* once it is done."""
    return f"{reverse(name)}?{urlencode({'next': back})}"
