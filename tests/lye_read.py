"""An edit that moves the lye of poured versions, done as by somebody who read which they are."""

from collections.abc import Callable
from typing import Any

from curehouse.common.errors import Conflict


def read_and_confirmed(verb: Callable[..., Any], **given: Any) -> Any:
    """Return what *verb* does with *given*; where it asks about poured versions, confirm what it says."""
    try:
        return verb(**given)
    except Conflict as asked:
        if asked.code != "poured_lye_moves":
            raise
        return verb(**given, lye_confirmed=asked.data["confirm"])
