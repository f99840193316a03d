"""Reading the environment, once, loudly.

Every setting a person may set from outside is read through these helpers, so that a wrong value
stops the start with a sentence instead of surfacing later as something else.
"""

import os
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

_TRUE = {"1", "true", "yes", "on"}
_FALSE = {"0", "false", "no", "off", ""}


def text(name: str, default: str = "") -> str:
    """Return the variable *name*, or the content of the file that *name*_FILE points to."""
    if name in os.environ:
        return os.environ[name]
    file_name = os.environ.get(f"{name}_FILE")
    if file_name is None:
        return default
    path = Path(file_name)
    if not path.is_file():
        raise ImproperlyConfigured(f"{name}_FILE names {file_name}, which is not a file.")
    return path.read_text(encoding="utf-8").strip()


def flag(name: str, *, default: bool = False) -> bool:
    """Return *name* as a yes or no."""
    value = text(name, "1" if default else "0").strip().lower()
    if value in _TRUE:
        return True
    if value in _FALSE:
        return False
    raise ImproperlyConfigured(f"{name} is {value!r}; write 1 for yes or 0 for no.")


def integer(name: str, default: int, *, least: int, most: int) -> int:
    """Return *name* as a whole number from *least* to *most*."""
    value = text(name, str(default)).strip()
    try:
        number = int(value)
    except ValueError as error:
        raise ImproperlyConfigured(f"{name} is {value!r}; write a whole number from {least} to {most}.") from error
    if not least <= number <= most:
        raise ImproperlyConfigured(f"{name} is {number}; write a whole number from {least} to {most}.")
    return number


def words(name: str, default: str = "") -> list[str]:
    """Return *name* as a list, split at commas."""
    return [part.strip() for part in text(name, default).split(",") if part.strip()]


def networks(name: str) -> list[IPv4Network | IPv6Network]:
    """Return *name* as a list of addresses and networks, split at commas."""
    try:
        return [ip_network(word, strict=False) for word in words(name)]
    except ValueError as error:
        raise ImproperlyConfigured(f"{name}: {error}; write addresses or networks such as 10.0.0.0/8.") from error
