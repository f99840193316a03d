"""Coming in and going out."""

from django.contrib.auth import authenticate, login, logout
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from curehouse.flows.set_up import is_set_up
from curehouse.web.deeds import note_person
from curehouse.web.forms.door import SignInForm
from curehouse.web.next_page import next_page
from curehouse.workshops.models import User

# The same words whether the address is unknown or the password wrong: who lives here is nobody's business.
_NOT_RIGHT = "This e-mail address and password do not belong together: check both and try again."


def _next_page(request: HttpRequest) -> str:
    return next_page(request, otherwise=reverse("web:today"))


def _note_refusal(request: HttpRequest, address: str) -> None:
    """Note a wrong password where its owner works; what nobody here is called is written down nowhere."""
    person = User.objects.filter(email=address, is_active=True).first()
    if person is not None:
        note_person(request, person, "sign_in_wrong", at=timezone.now())


@sensitive_post_parameters("password")
@never_cache
def sign_in(request: HttpRequest) -> HttpResponse:
    """Let a person in."""
    if request.user.is_authenticated:
        return redirect(_next_page(request))
    if not is_set_up():
        return redirect("web:set_up")
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        address = form.cleaned_data["email"].lower()
        user = authenticate(request, username=address, password=form.cleaned_data["password"])
        if user is not None:
            with transaction.atomic():
                login(request, user)
                note_person(request, user, "sign_in", at=timezone.now())
            return redirect(_next_page(request))
        _note_refusal(request, address)
        form.add_error(None, _NOT_RIGHT)
    return render(request, "web/door/sign_in.html", {"form": form, "next": _next_page(request)})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Let a person out."""
    person = request.user
    with transaction.atomic():
        logout(request)
        if person.is_authenticated:
            note_person(request, person, "sign_out", at=timezone.now())
    return redirect("web:sign_in")
