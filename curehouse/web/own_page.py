"""Forms of a person's own page, some of which ask for the present password.

They carry no key: what is kept of a form sent once is a fast hash over all of it, and no such hash may lie
over a password. Sent twice they change nothing more, or the second is refused.
"""

from collections.abc import Callable

from django.db import transaction
from django.http import HttpRequest

from curehouse.common.errors import DomainError
from curehouse.web.access import Visit
from curehouse.web.deeds import code_of, note_person
from curehouse.web.errors import add_to_form
from curehouse.web.forms.fields import HouseForm
from curehouse.workshops.services import brake
from curehouse.workshops.services.brake import Try


def is_done(request: HttpRequest, visit: Visit, form: HouseForm, work: Callable[[], str | None]) -> bool:
    """Do *work* if *form* was sent and is right, and note it with what *work* says of it; return whether it was done.

    A present password that was typed is a try. It is taken back unless the password was wrong, or the answer
    tells that somebody else has an address; raises ``TooMany``.
    """
    if request.method != "POST" or not form.is_valid():
        return False
    person = visit.member.user
    # Counted apart from the sign-in: who guesses there must not keep a person from changing their password.
    one = Try(brake.PRESENT, str(person.pk)) if form.cleaned_data.get("present_password") else None
    if one:
        brake.check(one, at=visit.at)
    try:
        with transaction.atomic():
            about = work() or ""
            note_person(request, person, code_of(request.resolver_match.url_name), at=visit.at, about=about)
    except DomainError as error:
        if error.code == "present_password" and one:
            note_person(request, person, "present_password_wrong", at=visit.at)
        elif one and error.code != "email_taken":
            brake.give_back(one)
        add_to_form(form, error)
        return False
    if one:
        brake.give_back(one)
    return True
