"""Today, Racks, the round, a batch and the Storeroom on five years of data, against a tenth of it.

``python -m tests.benchmarks.pages`` builds two houses side by side (2,000 batches with 100,000
weighings, and 200 with 10,000; the same forty batches stand on the racks in both; 500 materials with
100,000 movements, and 50 with 10,000), asks for each page in turn and prints query counts, medians
and ratios. It fails if a count differs or a ratio of times is over 1.2.
"""

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

_FOLDER = tempfile.TemporaryDirectory()
(Path(_FOLDER.name) / "static").mkdir()
os.environ["CUREHOUSE_DATA"] = _FOLDER.name
os.environ["ALLOWED_HOSTS"] = "testserver"
os.environ["DJANGO_SETTINGS_MODULE"] = "curehouse.settings"

import django  # noqa: E402

django.setup()

from django.conf import settings  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection, connections  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from django.utils import timezone  # noqa: E402

from curehouse.workshops.models import Workshop  # noqa: E402
from tests.benchmarks.five_years import OPEN_BATCHES, furnish  # noqa: E402
from tests.benchmarks.five_years_of_stock import furnish_stock  # noqa: E402

LARGEST_RATIO = 1.2
ROUNDS = 60


def _house(name: str, batches: int) -> dict[str, object]:
    """Build a house in a database file of its own and return its pages' addresses."""
    use(name)
    call_command("migrate", verbosity=0)
    pages = furnish(batches)
    return pages | furnish_stock(Workshop.objects.get(), batches // 4, timezone.now())


def use(name: str) -> None:
    """Turn the default connection to the house *name*."""
    connections["default"].close()
    connections["default"].settings_dict["NAME"] = str(Path(_FOLDER.name) / f"{name}.sqlite3")


def ask(client: Client, path: str) -> tuple[float, int]:
    """Return the seconds and the queries that a page takes."""
    with CaptureQueriesContext(connection) as queries:
        began = time.perf_counter()
        answer = client.get(path, follow=True)
        took = time.perf_counter() - began
    if answer.status_code != 200:
        sys.exit(f"{path} answered {answer.status_code}")
    return took, len(queries)


def main() -> int:
    """Measure and print; return 0 if every page is as quick on ten times the data."""
    settings.STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    houses = {"tenth": _house("tenth", 200), "whole": _house("whole", 2000)}
    print(f"two houses built: 200 and 2,000 batches, {OPEN_BATCHES} standing in each")
    clients = {}
    for name, pages in houses.items():
        use(name)
        clients[name] = Client()
        clients[name].force_login(pages["owner"])
    fine = True
    for page in ("today", "racks", "round", "batch", "storeroom", "material", "lot"):
        times: dict[str, list[float]] = {"tenth": [], "whole": []}
        counts: dict[str, set[int]] = {"tenth": set(), "whole": set()}
        for _turn in range(ROUNDS):
            for name in houses:
                use(name)
                client = clients[name]
                client.get("/healthz")
                ask(client, str(houses[name][page]))
                took, count = ask(client, str(houses[name][page]))
                times[name].append(took)
                counts[name].add(count)
        ratio = statistics.median(w / t for w, t in zip(times["whole"], times["tenth"], strict=True))
        same = counts["whole"] == counts["tenth"]
        fine = fine and same and ratio <= LARGEST_RATIO
        print(
            f"{page:9} queries {sorted(counts['tenth'])} and {sorted(counts['whole'])}"
            f"  median {statistics.median(times['tenth']) * 1e3:6.1f} ms and {statistics.median(times['whole']) * 1e3:6.1f} ms"
            f"  ratio {ratio:.2f}{'' if same and ratio <= LARGEST_RATIO else '  TOO MUCH'}"
        )
    return 0 if fine else 1


if __name__ == "__main__":
    sys.exit(main())
