"""A person's own page: name, address and password."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from curehouse.web.access import Visit, for_members
from curehouse.web.forms.you import PasswordForm, YouForm
from curehouse.web.own_page import is_done
from curehouse.web.reading.people import second_step_line
from curehouse.workshops.changes import change_password, change_person
from curehouse.workshops.roles import Right
from curehouse.workshops.sessions import end_other_sessions


@sensitive_post_parameters("present_password")
@never_cache
@for_members(needs=Right.SELF)
def you(request: HttpRequest, visit: Visit) -> HttpResponse:
    """Change one's own name and the address one signs in with."""
    person = visit.member.user
    form = YouForm(request.POST or None, initial={"name": person.name, "email": person.email})

    def work() -> str:
        row = change_person(person=person, **form.cleaned_data)
        messages.success(request, f"Kept: {row.name}, {row.email}.")
        # Both before and after: by another name than before, or somebody else's, nobody gets lost in the trail.
        changes = ((person.name, row.name), (person.email, row.email))
        return ", ".join(f"from {was} to {now}" for was, now in changes if was != now)

    if is_done(request, visit, form, work):
        return redirect("web:you")
    page = {"form": form, "second": second_step_line(visit)}
    return render(request, "web/workshop/you.html", page)


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

    if is_done(request, visit, form, work):
        return redirect("web:you")
    return render(request, "web/workshop/password.html", {"form": form})
