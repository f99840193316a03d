"""Who is counted at the door: the account, the address, or a browser that signed in to it before.

A browser that signed in keeps a signed cookie that says to which account (OWASP, *Device Cookies*). It has a
count of its own, so that whoever guesses from elsewhere shuts nobody out of their own browser.
"""

import secrets
from datetime import datetime

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from curehouse.common.visitors import address_block, remote_address
from curehouse.workshops.services import brake
from curehouse.workshops.services.brake import Try

DEVICE_COOKIE = "known-here"
_SALT = "curehouse.known-device"
_KNOWN_FOR_SECONDS = 60 * 60 * 24 * 365


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
    """Take each of *tries*; return 0, or for how many seconds none is looked at."""
    for one in tries:
        wait_seconds = brake.take(one, at=at)
        if wait_seconds:
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


def remember_device(request: HttpRequest, answer: HttpResponse, account: str) -> None:
    """Have the browser keep that it signed in to *account*."""
    kept = {**_known(request), account: _device_of(request, account) or secrets.token_urlsafe(12)}
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


def _known(request: HttpRequest) -> dict[str, str]:
    try:
        kept = signing.loads(request.COOKIES.get(DEVICE_COOKIE, ""), salt=_SALT, max_age=_KNOWN_FOR_SECONDS)
    except signing.BadSignature:
        return {}
    return kept if isinstance(kept, dict) else {}


def _device_of(request: HttpRequest, account: str) -> str:
    return _known(request).get(account, "")
