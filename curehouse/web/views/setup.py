"""The first run, open to this computer or to whoever holds the set-up key."""

from ipaddress import ip_address

from django.contrib.auth import login
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from curehouse.common.errors import Conflict, DomainError
from curehouse.common.setup_key import setup_key
from curehouse.flows.set_up import is_set_up
from curehouse.flows.set_up import set_up as open_house
from curehouse.web.brake import address_of
from curehouse.web.deeds import note_in
from curehouse.web.errors import add_to_form
from curehouse.web.forms.door import SetUpForm
from curehouse.workshops.services import brake
from curehouse.workshops.services.brake import Try

# A proxy on this computer makes every visitor look like one from here.
_PASSED_ON = ("HTTP_FORWARDED", "HTTP_X_FORWARDED_FOR", "HTTP_X_REAL_IP")
# Not every proxy says that it is one; but what it passes on asks for the name by which others reach the house.
_NAMES_FROM_HERE = ("localhost", "127.0.0.1", "[::1]")


def _is_from_here(request: HttpRequest) -> bool:
    """Return whether the request comes straight from the computer the house runs on."""
    if any(name in request.META for name in _PASSED_ON):
        return False
    host, _port = split_domain_port(request.get_host())
    if host not in _NAMES_FROM_HERE:
        return False
    try:
        address = ip_address(request.META.get("REMOTE_ADDR", ""))
    except ValueError:
        return False
    return (getattr(address, "ipv4_mapped", None) or address).is_loopback


def _has_key(request: HttpRequest) -> bool:
    typed = request.GET.get("key", "").strip().lower()
    return constant_time_compare(typed, setup_key())


@sensitive_post_parameters("password")
@never_cache
def set_up(request: HttpRequest) -> HttpResponse:
    """Open the house: its owner, workshop and first scale. Gone once that is done."""
    if is_set_up():
        return redirect("web:sign_in")
    if not _is_from_here(request) and not _has_key(request):
        if "key" in request.GET:
            brake.check(Try(brake.TOKEN, address_of(request)), at=timezone.now())
        return render(request, "web/door/set_up_key.html", {"is_wrong": "key" in request.GET}, status=403)
    form = SetUpForm(request.POST or None, initial={"round_days": ["0"]})
    if request.method == "POST" and form.is_valid():
        at = timezone.now()
        try:
            with transaction.atomic():
                owner, workshop = open_house(entry=form.entry(), at=at)
                note_in(request, workshop, owner, "set_up", at=at, about=workshop.name)
        except Conflict:
            # Somebody else was first; their house, their sign-in.
            return redirect("web:sign_in")
        except DomainError as error:
            add_to_form(form, error)
        else:
            login(request, owner)
            return redirect("web:today")
    return render(request, "web/door/set_up.html", {"form": form})
