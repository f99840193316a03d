"""A person's own page: name, address and password.

These forms carry no key: what is kept of a form sent once is a fast hash over all of it, and no
such hash may lie over a password. Sent twice they change nothing more.
"""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from curehouse.common.errors import DomainError
from curehouse.web.access import Visit, for_members
from curehouse.web.deeds import note_person
from curehouse.web.errors import add_to_form
from curehouse.web.forms.fields import HouseForm
from curehouse.web.forms.you import PasswordForm, YouForm
from curehouse.workshops.changes import change_password, change_person
from curehouse.workshops.roles import Right
from curehouse.workshops.sessions import end_other_sessions


def _is_done(request: HttpRequest, visit: Visit, form: HouseForm, work: Callable[[], None]) -> bool:
    """Do *work* if *form* was sent and is right, and note it; return whether it was done."""
    if request.method != "POST" or not form.is_valid():
        return False
    try:
        with transaction.atomic():
            work()
            note_person(request, visit.member.user, request.resolver_match.url_name, at=visit.at)
    except DomainError as error:
        add_to_form(form, error)
        return False
    return True


@sensitive_post_parameters("present_password")
@never_cache
@for_members(needs=Right.SELF)
def you(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Change one's own name and the address one signs in with."""
    person = visit.member.user
    form = YouForm(request.POST or None, initial={"name": person.name, "email": person.email})

    def work() -> None:
        row = change_person(person=person, **form.cleaned_data)
        messages.success(request, f"Kept: {row.name}, {row.email}.")

    if _is_done(request, visit, form, work):
        return redirect("web:you")
    return render(request, "web/workshop/you.html", {"form": form})


@sensitive_post_parameters("present_password", "password")
@never_cache
@for_members(needs=Right.SELF)
def password(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Change one's own password; other sessions end, this one stays."""
    form = PasswordForm(request.POST or None)

    def work() -> None:
        row = change_password(person=visit.member.user, **form.cleaned_data)
        update_session_auth_hash(request, row)
        end_other_sessions(person=row, keep=request.session.session_key)
        messages.success(request, "Your new password is kept. Wherever else you were signed in, it is asked for.")

    if _is_done(request, visit, form, work):
        return redirect("web:you")
    return render(request, "web/workshop/password.html", {"form": form})
