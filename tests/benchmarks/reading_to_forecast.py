"""From the POST of a weighing to the new verdict and the new forecast: ``python -m tests.benchmarks.reading_to_forecast``.

A running house with 60 batches in cure and 20 that are over, a device that posts one weighing after the other over
HTTP and asks until both are there. Held to: 95 of 100 within two seconds. Ends with 1 if that is missed.
"""

import json
import sys
import tempfile
import time
import urllib.error
import urllib.request
import uuid
from datetime import UTC, datetime
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from tests.browser.at_work import inside
from tests.house import RunningHouse, wait_until

IN_CURE, OVER, POSTS = 60, 20, 100
MOST_SECONDS = 2.0
PATIENCE_SECONDS = 300.0
# What the device waits between two looks; it is part of what is measured.
_PAUSE_SECONDS = 0.02

_FILL = f"""
from curehouse.curing.models import Cure, SampleBar
from curehouse.workshops.services import give_token
def weights(start, days):
    return {{day: f"{{start * (0.885 + 0.115 * 0.72 ** (day / 7)):.1f}}" for day in days}}
with transaction.atomic():
    world = World(now=now)
    for number in range({OVER}):
        batch = world.batch(cut_days_ago=70 + number, formula_name=f"Plain {{number % 4}}")
        world.weigh_series(batch, weights(118 + number % 7, range(0, 43, 7)))
        Cure.objects.within(world.workshop).filter(batch=batch).update(ended_at=now, due_on=None)
    made = []
    for number in range({IN_CURE}):
        batch = world.batch(cut_days_ago=15 + number % 12, formula_name=f"Plain {{number % 4}}")
        world.weigh_series(batch, weights(116 + number % 9, (0, 7, 14)))
        made.append([batch.pk, *SampleBar.objects.within(world.workshop).filter(batch=batch).values_list("pk", flat=True)])
    _token, secret = give_token(actor=world.actor, name="bench", reach="works", at=world.now)
print(json.dumps([secret, world.scale.pk, made]))
"""


class _Device:
    def __init__(self, base_url: str, secret: str) -> None:
        self._base, self._head = (
            f"{base_url}/api/v1/",
            {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"},
        )

    def ask(self, path: str, sent: dict[str, object] | None = None) -> Any:
        head = self._head if sent is None else self._head | {"Idempotency-Key": f'"{uuid.uuid4()}"'}
        request = urllib.request.Request(self._base + path, json.dumps(sent).encode() if sent else None, head)  # noqa: S310
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310
                return json.load(answer)
        except urllib.error.HTTPError as error:
            raise AssertionError(f"{path}: {error.code} {error.read().decode()}") from error

    def newest(self, batch: int) -> tuple[int, int]:
        """Return the keys of a batch's newest verdict and forecast."""
        verdict, forecast = (
            self.ask(f"batches/{batch}/{what}/?ordering=-moment&page_size=1")["results"]
            for what in ("assessments", "forecasts")
        )
        return (verdict[0]["id"] if verdict else 0), (forecast[0]["id"] if forecast else 0)


def _measure(house: RunningHouse) -> tuple[list[float], list[float]]:
    secret, scale, batches = inside(house, _FILL)
    device = _Device(house.base_url, secret)
    wait_until(
        lambda: all(all(device.newest(batch)) for batch, *_bars in batches), seconds=PATIENCE_SECONDS, what="all foretold"
    )
    verdicts, forecasts = [], []
    for number in range(POSTS):
        batch, *bars = batches[number % len(batches)]
        before = device.newest(batch)
        moment = datetime.now(tz=UTC).isoformat()
        weight = f"{104 + number % 9}.{number % 10}"
        began = time.perf_counter()
        device.ask(
            "readings/",
            {
                "bar": bars[number // len(batches) % len(bars)],
                "weight_g": weight,
                "moment": moment,
                "scale": scale,
                "client_id": str(uuid.uuid4()),
            },
        )
        took: dict[int, float] = {}
        while len(took) < 2:
            now = device.newest(batch)
            at = time.perf_counter() - began
            took |= {which: took.get(which, at) for which in (0, 1) if now[which] > before[which]}
            if at > PATIENCE_SECONDS:
                raise AssertionError(f"no new verdict and forecast of batch {batch}: {before} {now}")
            time.sleep(_PAUSE_SECONDS)
        verdicts.append(took[0])
        forecasts.append(took[1])
    return verdicts, forecasts


def main() -> int:
    """Measure, print, and return 1 if the limit is passed."""
    with tempfile.TemporaryDirectory(prefix="curehouse-bench-") as folder, RunningHouse(Path(folder) / "data") as house:
        measured = dict(zip(("verdict", "forecast"), _measure(house), strict=True))
    for what, took in measured.items():
        p95 = quantiles(took, n=20)[-1]
        print(f"{what:10} median {median(took):5.2f} s, p95 {p95:5.2f} s, longest {max(took):5.2f} s of {len(took)}")
    missed = any(quantiles(took, n=20)[-1] > MOST_SECONDS for took in measured.values())
    print("missed" if missed else "held", f"p95 <= {MOST_SECONDS} s")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
