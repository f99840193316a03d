"""A form that was sent, done once or shown again."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from curehouse.common.errors import DomainError
from curehouse.web.access import Visit
from curehouse.web.errors import add_to_form
from curehouse.web.forms.fields import HouseForm
from curehouse.web.once import Where, once


def done_once(
    request: HttpRequest,
    visit: Visit,
    form: HouseForm,
    work: Callable[[], str],
    *,
    about: str | Callable[[], str] = "",
    where: Where | None = None,
) -> HttpResponse | None:
    """Do *work* (it returns where to go next) if *form* was sent and is right.

    None: show the form, as it was typed, with what to do beside each field.
    """
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        return once(request, visit, work, about=about, where=where)
    except DomainError as error:
        form.refusal = error
        add_to_form(form, error)
        return None
