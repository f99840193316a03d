"""``manage.py reorder_levels``: when to order and how much, for people with files only."""

import argparse
from typing import Any

from django.core.management.base import BaseCommand

from curehouse.commands.house.files import write_json
from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_reorder_levels_options
from curehouse.commands.house.refusal import Refused, leave
from curehouse.commands.house.reorder_files import read_shop
from curehouse.core.stock.reorder.shop import rules_of


class Command(BaseCommand):
    help = "Say from files at which level to order each material, month by month, and how much at once."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_reorder_levels_options(parser)

    def handle(self, **said: Any) -> None:
        try:
            items, as_of, costs = read_shop(said["folder"])
            rules = rules_of(items, month=as_of.month, day_of_month=as_of.day, costs=costs)
            write_json(
                said["out"],
                {
                    name: {"reorder_level_g": list(rule.levels), "order_quantity_g": rule.order, "order_now_g": 0}
                    for name, rule in rules.items()
                },
            )
        except (Refused, ValueError) as error:
            leave(error if isinstance(error, Refused) else Refused(f"{error}."))
        say(f"{len(rules)} materials, in {said['out']}.")
