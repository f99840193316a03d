"""``manage.py check_runs``: hold runs against a storeroom, for people with files only."""

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from curehouse.commands.house.files import Fields, read_json, write_json
from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_check_runs_options
from curehouse.commands.house.refusal import Refused, leave
from curehouse.commands.house.run_cases import answer


class Command(BaseCommand):
    help = "Say from a file whether runs can be poured on their day, what they lack, and when they first can be."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_check_runs_options(parser)

    def handle(self, **said: Any) -> None:
        try:
            answers = _answers(said["cases"])
            write_json(said["out"], answers)
        except Refused as refusal:
            leave(refusal)
        say(f"{len(answers)} runs checked, in {said['out']}.")


def _answers(path: Path) -> dict[str, dict[str, Any]]:
    cases = read_json(path)
    if not isinstance(cases, list):
        raise Refused(f"{path} must hold a list of cases in square brackets.")
    answers: dict[str, dict[str, Any]] = {}
    for place, value in enumerate(cases, 1):
        name = Fields(f"{path}, case {place}", value).text("name")
        if name in answers:
            raise Refused(f"{path}, case {place}: another case is called {name} already; give each its own name.")
        answers[name] = answer(Fields(f"{path}, case {name}", value))
    return answers
