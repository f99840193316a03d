"""The second step of signing in, on a person's own page: on, off, new recovery codes."""

from datetime import datetime
from urllib.parse import quote

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from curehouse.common.errors import Invalid
from curehouse.web.access import Visit, for_members
from curehouse.web.drawing.qr import draw_qr
from curehouse.web.forms.you import NewCodesForm, PresentPasswordForm, SwitchOnForm
from curehouse.web.own_page import is_done
from curehouse.web.reading.people import second_step_line
from curehouse.workshops.models import SecondStep, User
from curehouse.workshops.roles import Right
from curehouse.workshops.services.second_step import (
    address_for_app,
    new_seed,
    renew_codes,
    secret_of,
    switch_off_by_password,
    switch_on,
)
from curehouse.workshops.sessions import end_other_sessions

# Until it is on, its seed stands in the session, so that a page loaded anew shows the same key; for a while only:
# whoever reads it off a screen left alone must not find it in use when its owner comes back to switch it on.
_SEED = "second_step_key"
_SHOWN_FOR_SECONDS = 15 * 60


def _seed_of(request: HttpRequest, at: datetime) -> str:
    kept = request.session.get(_SEED)
    if kept is None or kept["until"] <= at.timestamp():
        kept = request.session[_SEED] = {"seed": new_seed(), "until": at.timestamp() + _SHOWN_FOR_SECONDS}
    return kept["seed"]


def _is_over(request: HttpRequest, at: datetime) -> bool:
    kept = request.session.get(_SEED)
    return kept is not None and kept["until"] <= at.timestamp()


@sensitive_variables()
@sensitive_post_parameters("present_password", "code")
@never_cache
@for_members(needs=Right.SELF)
def second_step(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Show how things stand; switch it on."""
    person, form, codes = visit.member.user, SwitchOnForm(request.POST or None), []

    def work() -> None:
        if _is_over(request, visit.at):
            anew = "The key was shown a quarter of an hour ago and is used no more: give your app the new one above."
            raise Invalid("key_over", anew, field="code")
        codes.extend(switch_on(person=person, seed=_seed_of(request, visit.at), at=visit.at, **form.cleaned_data))
        end_other_sessions(person=person, keep=request.session.session_key)

    if is_done(request, visit, form, work):
        del request.session[_SEED]
        return _codes_page(request, person, codes)
    second = second_step_line(visit)
    if second is not None:
        return render(request, "web/workshop/second_step_on.html", {"form": form, "second": second})
    seed = _seed_of(request, visit.at)
    picture = draw_qr(address_for_app(person=person, seed=seed), title="QR code with the key for your app")
    secret = secret_of(seed)
    page = {"form": form, "picture": picture, "secret": " ".join(secret[at : at + 4] for at in range(0, len(secret), 4))}
    return render(request, "web/workshop/second_step_off.html", page)


@sensitive_variables()
@sensitive_post_parameters("present_password")
@never_cache
@for_members(needs=Right.SELF)
def new_codes(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Make new recovery codes; they are shown in the answer itself and kept nowhere."""
    person, codes = visit.member.user, []
    second = SecondStep.objects.of(person).first()
    form = NewCodesForm(request.POST or None, initial={"codes_set": second.codes_set if second else 0})

    def work() -> None:
        codes.extend(renew_codes(person=person, **form.cleaned_data))

    if is_done(request, visit, form, work):
        return _codes_page(request, person, codes)
    if second is None and request.method != "POST":
        return redirect("web:second_step")
    return render(request, "web/workshop/second_step_new_codes.html", {"form": form})


@sensitive_post_parameters("present_password")
@never_cache
@for_members(needs=Right.SELF)
def switch_off(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Ask for no code any more."""
    person, form = visit.member.user, PresentPasswordForm(request.POST or None)

    def work() -> None:
        switch_off_by_password(person=person, **form.cleaned_data)
        messages.success(request, "The second step is off: your password alone lets you in.")

    if is_done(request, visit, form, work):
        return redirect("web:you")
    return render(request, "web/workshop/second_step_switch_off.html", {"form": form})


@sensitive_variables()
def _codes_page(request: HttpRequest, person: User, codes: list[str]) -> HttpResponse:
    lines = [f"Recovery codes of {person.email} for Curehouse. Each works once.", "", *codes, ""]
    page = {"codes": codes, "as_file": "data:text/plain;charset=utf-8," + quote("\r\n".join(lines))}
    return render(request, "web/workshop/second_step_codes.html", page)
