"""Who is counted at the door: the account, the address, or a browser that signed in to it before.

A browser that signed in keeps a signed cookie that says to which account (OWASP, *Device Cookies*), by a mark that
only this house can make of its address, for whoever finds the cookie reads what is signed. It has a
count of its own, so that whoever guesses from elsewhere shuts nobody out of their own browser. Each cookie is
worth as many tries, and whoever knows a password can lay in any number of them: so it holds only as long as
what its browser came in by, and another password, or the second step switched on, ends all there were.
"""

import secrets
from datetime import datetime

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

from curehouse.common.visitors import address_block, remote_address
from curehouse.workshops.models import SecondStep, User
from curehouse.workshops.services import brake
from curehouse.workshops.services.brake import Try

DEVICE_COOKIE = "known-here"
_SALT = "curehouse.known-browser"
_MARK_SALT = "curehouse.known-browser.account"
_KNOWN_FOR_SECONDS = 60 * 60 * 24 * 365
_PROOF_LENGTH = 32


def address_of(request: HttpRequest) -> str:
    """Return the address, or block of addresses, that a request is counted under."""
    return address_block(remote_address(request.META))


def tries_of(request: HttpRequest, account: str) -> list[Try]:
    """Return what a try to sign in to *account* is counted under, in this order."""
    device = _device_of(request, account)
    if device:
        return [Try(brake.DEVICE, f"{account} {device}")]
    return [Try(brake.ADDRESS, address_of(request)), Try(brake.ACCOUNT, account)]


def tries_of_code(request: HttpRequest, account: str) -> list[Try]:
    """Return what a code typed after *account*'s right password is counted under: as the password, and by the day."""
    device = _device_of(request, account)
    return [*tries_of(request, account), Try(brake.CODE, f"{account} {device}" if device else account)]


def take_all(tries: list[Try], *, at: datetime) -> int:
    """Take each of *tries*; return 0, or for how many seconds none is looked at: then none of them is spent."""
    for number, one in enumerate(tries):
        wait_seconds = brake.take(one, at=at)
        if wait_seconds:
            give_all_back(tries[:number])
            return wait_seconds
    return 0


def give_all_back(tries: list[Try]) -> None:
    """Take each of *tries* back: nothing was tried."""
    for one in tries:
        brake.give_back(one)


def came_in(tries: list[Try]) -> None:
    """Begin the counts of an account anew; its address has had one wrong try less."""
    for one in tries:
        if one.limit is brake.ADDRESS:
            brake.give_back(one)
        else:
            brake.forget(one)


def leave_counted(tries: list[Try]) -> None:
    """Leave the counts of an account as they are, for the code that is still to come; its address did nothing wrong."""
    for one in tries:
        if one.limit is brake.ADDRESS:
            brake.give_back(one)


def remember_device(request: HttpRequest, answer: HttpResponse, person: User) -> None:
    """Have the browser keep that it signed in as *person*."""
    device = _device_of(request, person.email) or secrets.token_urlsafe(12)
    kept = {**_known(request), _mark_of(person.email): [device, _proof(person)]}
    # Of a browser that several share, the last few.
    value = signing.dumps(dict(list(kept.items())[-5:]), salt=_SALT)
    answer.set_cookie(
        DEVICE_COOKIE,
        value,
        max_age=_KNOWN_FOR_SECONDS,
        path="/sign-in/",
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _proof(person: User) -> str:
    """Return what changes with whatever the person signs in by."""
    second = SecondStep.objects.of(person).first()
    signs_in_by = f"{person.password}:{second.seed if second else ''}"
    return salted_hmac(_SALT, signs_in_by, algorithm="sha256").hexdigest()[:_PROOF_LENGTH]


def _known(request: HttpRequest) -> dict[str, list[str]]:
    try:
        kept = signing.loads(request.COOKIES.get(DEVICE_COOKIE, ""), salt=_SALT, max_age=_KNOWN_FOR_SECONDS)
    except signing.BadSignature:
        return {}
    # Until it signs in the next time, a browser of before has the address itself.
    return {_mark_of(whose) if "@" in whose else whose: said for whose, said in kept.items()} if isinstance(kept, dict) else {}


def _mark_of(account: str) -> str:
    return salted_hmac(_MARK_SALT, account, algorithm="sha256").hexdigest()[:_PROOF_LENGTH]


def _device_of(request: HttpRequest, account: str) -> str:
    kept = _known(request).get(_mark_of(account))
    if kept is None:
        return ""
    # Looked up for those alone who were in: how long it takes tells nobody else whose name there is.
    device, proof = kept
    person = User.objects.filter(email=account, is_active=True).first()
    return device if person is not None and constant_time_compare(proof, _proof(person)) else ""
