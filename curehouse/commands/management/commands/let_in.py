"""Let somebody in who is shut out: whoever can run this holds the house itself."""

import secrets
import sys
from getpass import getpass
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from curehouse.commands.house.options import add_data_option
from curehouse.common.errors import Invalid
from curehouse.common.visitors import Origin
from curehouse.flows.deeds import sentence
from curehouse.workshops.changes import left_open_by, let_in_anew
from curehouse.workshops.models import User
from curehouse.workshops.services.audit import note_of_person


class Command(BaseCommand):
    """Give a person a new password, end their sessions and second step, and let go of every brake at the door."""

    help = "Let a person in who is shut out: a new password (asked for, or made), sessions ended, second step off, brakes off."

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        add_data_option(parser)
        parser.add_argument("email", help="the address they sign in with")
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--make-password", action="store_true", help="make a password and print it, once")
        which.add_argument(
            "--keep-password", action="store_true", help="only end sessions and second step, and let go of the brakes"
        )

    def handle(self, **options: Any) -> None:
        """Ask, change, note, and say what is so now."""
        person = User.objects.filter(email=options["email"].strip().lower()).first()
        if person is None:
            known = ", ".join(User.objects.order_by("pk").values_list("email", flat=True))
            raise CommandError(f"Nobody signs in with {options['email']} here; these do: {known or 'nobody yet'}.")
        password = _new_password(options)
        at = timezone.now()
        try:
            with transaction.atomic():
                was_on = let_in_anew(person=person, password=password)
                said = sentence("let_in", "their second step is off" if was_on else "")
                note_of_person(person=person, code="let_in", said=said, at=at, origin=Origin(command="let_in"))
        except Invalid as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"{person.email} can sign in at once, and is signed out everywhere.")
        if was_on:
            self.stdout.write("Their second step was on, and is off now. They switch it on again under You.")
        if any(left_open := left_open_by(person, at=at)):
            self.stdout.write(
                f"Still open: devices they let in ({left_open[0]}), invitations they gave ({left_open[1]}). If somebody else"
                " was in their place, end these under Workshop, Devices and People."
            )
        if options["make_password"]:
            self.stdout.write(f"Password, shown this once: {password}")


def _new_password(options: dict[str, Any]) -> str:
    """Return the password to be, or nothing where the old one stays."""
    if options["keep_password"]:
        return ""
    if options["make_password"]:
        return secrets.token_urlsafe(15)
    if not sys.stdin.isatty():
        raise CommandError("There is nobody to ask for a password: give --make-password or --keep-password.")
    password = getpass("New password: ")
    if password != getpass("The same again: "):
        raise CommandError("The two are not the same; nothing was changed.")
    if not password:
        raise CommandError("The password is missing; nothing was changed.")
    return password
