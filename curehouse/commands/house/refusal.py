"""The one way the house says no: a sentence on standard error and exit code 2."""

import sys
from typing import NoReturn

REFUSED = 2


class Refused(Exception):
    """The house can't do what was asked; the text names the reason and the remedy."""


def leave(refusal: Refused) -> NoReturn:
    """Print *refusal* in one line and end the process."""
    sys.stdout.flush()
    sys.stderr.write(f"Curehouse: {refusal}\n")
    raise SystemExit(REFUSED)
