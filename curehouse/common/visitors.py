"""Where a request comes from, in words that can be kept."""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import ip_address

from django.conf import settings

_LONGEST_READ = 400
# What a browser calls itself, the telling name first: most say they are several others besides.
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrome", "Chrome"),
    ("HeadlessChrome", "Chrome"),
    ("Safari", "Safari"),
)
_SYSTEMS = (
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Android", "Android"),
    ("CrOS", "a Chromebook"),
    ("Windows", "Windows"),
    ("Macintosh", "a Mac"),
    ("Linux", "Linux"),
)


@dataclass(frozen=True, slots=True)
class Origin:
    """The network address and the device of a request, or the command of the shell that stands for one."""

    address: str = ""
    device: str = ""
    command: str = ""


NOWHERE = Origin()


def one_line(text: str, *, longest: int) -> str:
    """Return *text* on one line without control or formatting characters, at most *longest* long.

    What a stranger sends must not begin a line of its own, nor turn around what stands beside it.
    """
    shown = "".join(" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in text[: longest * 4])
    line = " ".join(shown.split())
    return line if len(line) <= longest else f"{line[: longest - 1].rstrip()}…"


def device_words(user_agent: str) -> str:
    """Return a browser and its system in a few words, ``Firefox on Android``.

    The dozen names that browsers call themselves by are enough to tell one's own devices apart; a program's own
    name stays as it is.
    """
    agent = user_agent[:_LONGEST_READ]
    browser = next((name for mark, name in _BROWSERS if re.search(rf"\b{mark}/", agent)), "")
    system = next((name for mark, name in _SYSTEMS if mark in agent), "")
    if browser and system:
        return f"{browser} on {system}"
    return browser or one_line(agent.split("/", 1)[0], longest=40) or "a device without a name"


def remote_address(meta: Mapping[str, str]) -> str:
    """Return the network address a request came from.

    What a request says of itself (X-Forwarded-For) counts only behind the proxies that
    ``CUREHOUSE_TRUSTED_PROXIES`` names; then it is the last address none of them added.
    """
    near = _address(meta.get("REMOTE_ADDR", ""))
    if not near or not _is_trusted(near):
        return near
    for said in reversed(meta.get("HTTP_X_FORWARDED_FOR", "").split(",")):
        address = _address(said.strip())
        if not address:
            return near
        if not _is_trusted(address):
            return address
        near = address
    return near


def origin_of(meta: Mapping[str, str]) -> Origin:
    """Return where the request with these headers came from."""
    return Origin(address=remote_address(meta), device=device_words(meta.get("HTTP_USER_AGENT", "")))


def _address(text: str) -> str:
    """Return an address as it is usually written, or nothing where it is none."""
    try:
        address = ip_address(text)
    except ValueError:
        return ""
    return str(getattr(address, "ipv4_mapped", None) or address).partition("%")[0]


def _is_trusted(address: str) -> bool:
    one = ip_address(address)
    return any(one in proxy for proxy in settings.TRUSTED_PROXIES)
