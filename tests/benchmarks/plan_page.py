"""The page on which a run is planned, beside 40 other runs and beside 4: ``python -m tests.benchmarks.plan_page``.

Two houses side by side, each with a formula of twelve materials, 500 lots, 200 places on the racks and runs planned over
the next 90 days. Each is asked in turn; queries, medians and their ratio are printed. Ends with 1 if the queries differ
or the ratio of times is over 1.2.
"""

import logging
import statistics
import sys
from datetime import timedelta
from decimal import Decimal

from tests.benchmarks import pages

LARGEST_RATIO = pages.LARGEST_RATIO  # the folder and the settings of a house came with it

from django.conf import settings  # noqa: E402
from django.contrib.auth import get_user_model  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402
from django.utils import timezone  # noqa: E402

from curehouse.flows.runs import plan_run  # noqa: E402
from tests.web.test_runs import wide_house  # noqa: E402
from tests.world import World  # noqa: E402

HOUSES = {"few": 4, "many": 40}
DAYS, ROUNDS = 90, 40


def _house(name: str, runs: int) -> tuple[Client, str]:
    pages.use(name)
    call_command("migrate", verbosity=0)
    world = World(now=timezone.now())
    for number in range(2):
        world.rack(f"Rack {number}", levels=10, places=10)
    version, today = wide_house(world, runs=0), world.now.date()
    for number in range(runs):
        on = today + timedelta(days=1 + number * DAYS // runs)
        plan_run(actor=world.actor, version=version, fats_g=Decimal(1000), pour_on=on, bars=10, at=world.now)
    client = Client()
    client.force_login(get_user_model().objects.get())
    wanted = f"fats_g=2000&bars=20&pour_on={today + timedelta(days=30)}&wanted_on={today + timedelta(days=90)}"
    return client, f"/versions/{version.pk}/run/?{wanted}"


def main() -> int:
    """Measure and print; return 0 if the page is as quick beside forty runs."""
    logging.disable(logging.INFO)
    settings.STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    houses = {name: _house(name, runs) for name, runs in HOUSES.items()}
    times: dict[str, list[float]] = {name: [] for name in houses}
    counts: dict[str, set[int]] = {name: set() for name in houses}
    for _turn in range(ROUNDS):
        for name, (client, path) in houses.items():
            pages.use(name)
            client.get("/healthz")
            pages.ask(client, path)
            took, count = pages.ask(client, path)
            times[name].append(took)
            counts[name].add(count)
    ratio = statistics.median(many / few for many, few in zip(times["many"], times["few"], strict=True))
    for name, runs in HOUSES.items():
        print(f"{runs:2} runs: {sorted(counts[name])} queries, median {statistics.median(times[name]) * 1e3:.0f} ms")
    print(f"ratio {ratio:.2f} (limit {LARGEST_RATIO:g})")
    return 0 if counts["few"] == counts["many"] and ratio <= LARGEST_RATIO else 1


if __name__ == "__main__":
    sys.exit(main())
