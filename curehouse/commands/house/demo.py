"""``--demo``: the invented workshop, opened once, its sign-in printed at every start."""

import json
import os
from datetime import datetime
from pathlib import Path

from curehouse.commands.house.greeting import say
from curehouse.commands.house.refusal import Refused
from curehouse.flows.demo import open_demo
from curehouse.workshops.models import Workshop

NOTE = "demo.json"


def demo_sign_in(data: Path, *, at: datetime) -> tuple[str, str]:
    """Return e-mail and password of the demo in this house, opening it in an empty one.

    Raises
    ------
    Refused
        The house holds a workshop that isn't the demo.
    """
    note = data / NOTE
    if Workshop.objects.exists():
        if not note.is_file():
            raise Refused(
                "--demo needs a house of its own, and a workshop lives in this one already;"
                " leave --demo out, or choose another folder with --data."
            )
        known = json.loads(note.read_text(encoding="utf-8"))
        return known["email"], known["password"]
    say("Opening the demo: half a year of an invented workshop is being entered, one weighing after another …")
    made = open_demo(at=at)
    note.unlink(missing_ok=True)
    descriptor = os.open(note, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
        json.dump({"email": made.email, "password": made.password}, stream)
    return made.email, made.password
