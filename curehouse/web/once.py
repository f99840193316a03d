"""A form that is sent twice is done once.

Every form that writes carries a key made when it was shown (``{% form_key %}``). Sent again (a
double tap, a reload, a second try over a bad network) it gets the first answer.
"""

import uuid
from collections.abc import Callable

from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from curehouse.common.errors import Invalid
from curehouse.common.uploads import fingerprint_of
from curehouse.web.access import Visit
from curehouse.web.deeds import note_deed
from curehouse.workshops.services import begin_submission, finish_submission

FIELD = "form_key"
Where = Callable[[], Visit]


def new_key() -> str:
    """Return the key of a form that is about to be shown."""
    return str(uuid.uuid4())


def once(
    request: HttpRequest,
    visit: Visit,
    work: Callable[[], str],
    *,
    about: str | Callable[[], str] = "",
    where: Where | None = None,
) -> HttpResponse:
    """Do *work*, which returns where to go next, unless this very form was sent before.

    What was done is noted in the trail, with *about* (or what it returns once the work is done) where
    the thing's own name does not say enough; in another workshop's than the one visited where *where* says so.
    """
    try:
        key = str(uuid.UUID(request.POST.get(FIELD, "")))
    except ValueError as error:
        raise Invalid("form_key", "This form is incomplete: load the page again and send it anew.") from error
    with transaction.atomic():
        submission, fresh = begin_submission(workshop=visit.workshop, key=key, content=_content(request), at=visit.at)
        if fresh:
            location = work()
            said = about if isinstance(about, str) else about()
            note_deed(request, visit if where is None else where(), location=location, about=said)
            finish_submission(submission=submission, answer={"location": location})
    return HttpResponseRedirect(submission.answer["location"])


def _content(request: HttpRequest) -> bytes:
    """Return what makes this form this one: where it was sent, what was typed, and which files came with it."""
    files = [f"{name} {fingerprint_of(file)}" for name, sent in sorted(request.FILES.lists()) for file in sent]
    return "\n".join([request.path, request.POST.urlencode(), *files]).encode()
