"""Coming in and going out."""

from datetime import datetime

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
from curehouse.web.brake import came_in, remember_device, take_all, tries_of
from curehouse.web.deeds import note_person
from curehouse.web.forms.door import SignInForm
from curehouse.web.next_page import next_page
from curehouse.workshops.models import User
from curehouse.workshops.services.brake import Try, in_words, note_refused

# The same words whether the address is unknown or the password wrong: who lives here is nobody's business.
_NOT_RIGHT = "This e-mail address and password do not belong together: check both and try again."


def _next_page(request: HttpRequest) -> str:
    return next_page(request, otherwise=reverse("web:today"))


@transaction.atomic
def _note_refusal(request: HttpRequest, address: str, one: Try, *, at: datetime) -> None:
    """Note a wrong password where its owner works; what nobody here is called is written down nowhere."""
    note_refused(one, at=at)
    person = User.objects.filter(email=address, is_active=True).first()
    if person is not None:
        note_person(request, person, "sign_in_wrong", at=at)


def _locked(request: HttpRequest, form: SignInForm, wait_seconds: int) -> HttpResponse:
    """Say when to try again; not a word depends on whether there is such an account."""
    form.add_error(
        None,
        f"Too many tries: none is looked at now. Try again {in_words(wait_seconds)}, or sign in from a browser that you"
        " signed in from before. Whoever runs the house can let you in at once.",
    )
    page = {"form": form, "next": _next_page(request), "is_locked": True}
    answer = render(request, "web/door/sign_in.html", page, status=429)
    answer["Retry-After"] = str(wait_seconds)
    return answer


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
        address, at = form.cleaned_data["email"].lower(), timezone.now()
        tries = tries_of(request, address)
        wait_seconds = take_all(tries, at=at)
        if wait_seconds:
            return _locked(request, form, wait_seconds)
        user = authenticate(request, username=address, password=form.cleaned_data["password"])
        if user is not None:
            with transaction.atomic():
                came_in(tries)
                login(request, user)
                note_person(request, user, "sign_in", at=at)
            answer = redirect(_next_page(request))
            remember_device(request, answer, address)
            return answer
        _note_refusal(request, address, tries[-1], at=at)
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
