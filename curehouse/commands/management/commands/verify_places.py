"""``manage.py verify_places``: recompute what stands where from the ledgers."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from curehouse.commands.house.options import add_data_option
from curehouse.curing.balance import differences


class Command(BaseCommand):
    """Ends with 1 and names each count that is not what its ledger comes to."""

    help = "Recompute what stands where from the placements and take-outs; ends with an error if a count differs."

    def add_arguments(self, parser: CommandParser) -> None:
        add_data_option(parser)

    def handle(self, *_args: Any, **_options: Any) -> None:
        found = differences()
        for difference in found:
            self.stdout.write(str(difference))
        if found:
            raise CommandError(f"{len(found)} counts differ from their ledgers; nothing was changed.")
        self.stdout.write("Every count is what its ledger comes to.")
