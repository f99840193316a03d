"""Whoever has typed the password and not yet the code: known to their browser, and let in nowhere.

It stands in a session that has nobody: no page and no address of the API takes it for a person's. Its key is
new with the password, and new again with the code.
"""

from datetime import datetime

from django.http import HttpRequest
from django.utils.crypto import constant_time_compare

from curehouse.workshops.models import User

FOR_SECONDS = 5 * 60
_IN_SESSION = "half_in"


def begin(request: HttpRequest, person: User, *, at: datetime) -> None:
    """Have the browser's session keep who typed the right password, for a few minutes."""
    request.session.flush()
    request.session[_IN_SESSION] = {
        "person": person.pk,
        # A password that is changed meanwhile ends this, as it ends sessions.
        "proof": person.get_session_auth_hash(),
        "until": at.timestamp() + FOR_SECONDS,
    }
    request.session.set_expiry(FOR_SECONDS)


def who_is(request: HttpRequest, *, at: datetime) -> User | None:
    """Return who typed the right password in this browser just now, or None."""
    kept = request.session.get(_IN_SESSION)
    if not kept or kept["until"] <= at.timestamp():
        return None
    person = User.objects.filter(pk=kept["person"], is_active=True).first()
    if person is None or not constant_time_compare(kept["proof"], person.get_session_auth_hash()):
        return None
    return person


def end(request: HttpRequest) -> None:
    """Forget it, and the session with it: what comes after has another key."""
    request.session.flush()
