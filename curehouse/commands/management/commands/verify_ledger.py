"""``manage.py verify_ledger``: recompute the stock from its ledgers."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from curehouse.commands.house.options import add_data_option
from inventory.balance import differences


class Command(BaseCommand):
    """Ends with 1 and names each balance, standing, count or reversal that its ledger does not bear out."""

    help = "Recompute what every lot holds and how it stands; ends with an error if anything differs."

    def add_arguments(self, parser: CommandParser) -> None:
        add_data_option(parser)

    def handle(self, *_args: Any, **_options: Any) -> None:
        found = differences()
        for difference in found:
            self.stdout.write(str(difference))
        if found:
            raise CommandError(f"{len(found)} differences from the stock ledgers; nothing was changed.")
        self.stdout.write("The stock is what its ledgers come to.")
