"""Coming in and going out."""

from datetime import datetime

from django.contrib import messages
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
from curehouse.web import half_in
from curehouse.web.brake import came_in, leave_counted, remember_device, take_all, tries_of, tries_of_code
from curehouse.web.deeds import note_person
from curehouse.web.forms.door import CodeForm, SignInForm
from curehouse.web.forms.fields import HouseForm
from curehouse.web.next_page import address_with_way_back, next_page
from curehouse.workshops.models import SecondStep, User
from curehouse.workshops.services.brake import Try, in_words, note_refused
from curehouse.workshops.services.second_step import Way, own_row, use_code
from curehouse.workshops.sessions import keep_at_once

# The same words whether the address is unknown or the password wrong: who lives here is nobody's business.
_NOT_RIGHT = "This e-mail address and password do not belong together: check both and try again."
_NO_CODE = "This code does not open: type the one that the app shows now, or a recovery code that you have not used yet."
_CODE_PAGE = "web/door/sign_in_code.html"
_DEEDS = {Way.APP: "sign_in", Way.RECOVERY: "sign_in_recovery"}


def _next_page(request: HttpRequest) -> str:
    return next_page(request, otherwise=reverse("web:today"))


@transaction.atomic
def _note_refusal(request: HttpRequest, address: str, one: Try, *, at: datetime) -> None:
    """Note a wrong password where its owner works; what nobody here is called is written down nowhere."""
    note_refused(one, at=at)
    person = User.objects.filter(email=address, is_active=True).first()
    if person is not None:
        note_person(request, person, "sign_in_wrong", at=at)


def _locked(request: HttpRequest, form: HouseForm, wait_seconds: int, template: str) -> HttpResponse:
    """Say when to try again; not a word depends on whether there is such an account."""
    form.add_error(
        None,
        f"Too many tries: none is looked at now. Try again {in_words(wait_seconds)}, or sign in from a browser that you"
        " signed in from before. Whoever runs the house can let you in at once.",
    )
    answer = render(request, template, {"form": form, "next": _next_page(request)}, status=429)
    answer["Retry-After"] = str(wait_seconds)
    return answer


def _come_in(request: HttpRequest, person: User, tries: list[Try], *, deed: str, at: datetime) -> None:
    came_in(tries)
    login(request, person)
    keep_at_once(request.session)
    note_person(request, person, deed, at=at)


def _by_password(request: HttpRequest, person: User, tries: list[Try], *, at: datetime) -> HttpResponse:
    """Let a person in whose password was right, or on to the second step.

    Held while it is asked, so that nobody comes in by the password alone just as the second step goes on.
    """
    with transaction.atomic():
        own_row(person)
        asks_code = SecondStep.objects.of(person).exists()
        if asks_code:
            # Said at once, for whoever has a stolen password may go no further and would be seen nowhere.
            note_person(request, person, "sign_in_half", at=at)
        else:
            _come_in(request, person, tries, deed="sign_in", at=at)
    if asks_code:
        half_in.begin(request, person, at=at)
        leave_counted(tries)
        return redirect(address_with_way_back("web:sign_in_code", back=_next_page(request)))
    answer = redirect(_next_page(request))
    remember_device(request, answer, person)
    return answer


@sensitive_post_parameters("password")
@never_cache
def sign_in(request: HttpRequest) -> HttpResponse:
    """Let a person in, or on to the second step if theirs is on."""
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
            return _locked(request, form, wait_seconds, "web/door/sign_in.html")
        person = authenticate(request, username=address, password=form.cleaned_data["password"])
        if person is not None:
            return _by_password(request, person, tries, at=at)
        _note_refusal(request, address, tries[-1], at=at)
        form.add_error(None, _NOT_RIGHT)
    return render(request, "web/door/sign_in.html", {"form": form, "next": _next_page(request)})


@sensitive_post_parameters("code")
@never_cache
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """Let a person in whose password was right in this browser just now, by a code that opens once."""
    if request.user.is_authenticated:
        return redirect(_next_page(request))
    at = timezone.now()
    person = half_in.who_is(request, at=at)
    if person is None:
        if request.method == "POST":
            messages.warning(request, "That took too long: sign in anew.")
        return redirect(address_with_way_back("web:sign_in", back=_next_page(request)))
    recovery = "recovery" in request.GET
    form = CodeForm(request.POST or None, recovery=recovery)
    if request.method == "POST" and form.is_valid():
        tries = tries_of_code(request, person.email)
        wait_seconds = take_all(tries, at=at)
        if wait_seconds:
            return _locked(request, form, wait_seconds, _CODE_PAGE)
        with transaction.atomic():
            way = use_code(person=person, typed=form.cleaned_data["code"], at=at)
            if way is not None:
                half_in.end(request)
                _come_in(request, person, tries, deed=_DEEDS[way], at=at)
            else:
                note_person(request, person, "sign_in_code_wrong", at=at)
        if way is not None:
            answer = redirect(_next_page(request))
            remember_device(request, answer, person)
            return answer
        form.add_error(None, _NO_CODE)
    return render(request, _CODE_PAGE, {"form": form, "next": _next_page(request), "recovery": recovery})


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Let a person out."""
    person = request.user
    with transaction.atomic():
        logout(request)
        if person.is_authenticated:
            note_person(request, person, "sign_out", at=timezone.now())
    return redirect("web:sign_in")
