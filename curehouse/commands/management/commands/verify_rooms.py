"""``manage.py verify_rooms``: recompute what the days of rooms' logs come to from their readings."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from curehouse.commands.house.options import add_data_option
from curehouse.curing.balance import room_differences


class Command(BaseCommand):
    """Ends with 1 and names each figure that is not what the readings come to."""

    help = "Recompute what the days of rooms' logs come to from their readings; ends with an error if a figure differs."

    def add_arguments(self, parser: CommandParser) -> None:
        add_data_option(parser)

    def handle(self, *_args: Any, **_options: Any) -> None:
        found = room_differences()
        for difference in found:
            self.stdout.write(str(difference))
        if found:
            raise CommandError(f"{len(found)} figures differ from their readings; nothing was changed.")
        self.stdout.write("Every day is what its readings come to.")
