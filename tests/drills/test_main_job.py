"""The main job on a running house: ten batches entered weighing by weighing, by API and by round.

What the house says as of every weighing is held against the same rule by brute force
(:mod:`tests.brute_force`), which reads the same doubtful marks and nothing else of the house's.
"""

import json

import pytest

from curehouse.core.cure.rule import State
from tests.brute_force import brute_all
from tests.drills.main_job import Kept, Prepared, Weighing, prepare
from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until
from tests.visitor import Device, Person

BY_API = ["B01", "B02", "B03", "B04", "B13"]
BY_ROUND = ["B06", "B07", "B08", "B09", "B14"]
CHECKED = {"B01", "B03", "B07", "B09", "B13"}
END_TOO_SOFT = {"B13", "B14"}

READ_BACK = """
import json
from curehouse.curing.models import Assessment, Cure, Reading
print("READ " + json.dumps({
    "wanted": Cure.unscoped.filter(assess_wanted_at__isnull=False).count(),
    "readings": [[str(r.client_id), bool(r.doubt)] for r in Reading.unscoped.order_by("pk")],
    "said": [[str(a.reading.client_id), a.state, a.weekly_loss_pct, a.total_loss_pct]
             for a in Assessment.unscoped.filter(cause="reading").select_related("reading").order_by("pk")],
}))
"""


def read_back(house: RunningHouse) -> dict:
    done = house.manage("shell", "-c", READ_BACK)
    line = next((line for line in done.stdout.splitlines() if line.startswith("READ ")), None)
    assert line, done.stdout
    return json.loads(line.removeprefix("READ "))


def send_by_api(device: Device, weighing: Weighing, scale_id: int) -> None:
    content = {
        "client_id": weighing.client_id,
        "bar": weighing.bar_id,
        "moment": weighing.moment.isoformat(),
        "weight_g": str(weighing.row.weight_g),
        "scale": scale_id,
    }
    answer = device.post("/api/v1/readings/", content)
    assert answer.status == 201, answer.text


def send_by_round(person: Person, weighing: Weighing, scale_id: int) -> None:
    path = f"/round/{weighing.bar_id}/"
    values = {
        "client_id": weighing.client_id,
        "moment": weighing.moment.isoformat(),
        "weight": str(weighing.row.weight_g).replace(".", ","),
        "scale": scale_id,
    }
    answer = person.post(path, values)
    assert answer.status == 200, answer.text


def check_batch(batch: Kept, said: dict, doubtful: dict) -> list[str]:
    """Hold what the house said of each weighing against brute force; return the states in their order."""
    for one in batch.weighings:
        one.row.doubtful = doubtful[one.client_id]
    rows = batch.rows_with_exact_days()
    states = []
    for count, one in enumerate(batch.weighings, start=1):
        weekly, total, _left, state = brute_all(rows[:count], batch.share)
        # Dry enough without a check is check due.
        expected = "check_due" if state is State.READY and batch.name not in CHECKED else state.value
        state_said, weekly_said, total_said = said[one.client_id]
        where = f"{batch.name}, weighing {count}"
        assert weekly_said == pytest.approx(weekly, abs=1e-6), where
        assert total_said == pytest.approx(total, abs=1e-6), where
        assert state_said == expected, where
        states.append(state_said)
    return states


def weigh_everything(house: RunningHouse, prepared: Prepared) -> None:
    device = Device(house.base_url, prepared.secret)
    person = Person(house.base_url)
    person.sign_in(prepared.email, prepared.password)
    for batch in prepared.batches:
        for one in batch.weighings:
            if batch.name in BY_API:
                send_by_api(device, one, prepared.scale_id)
            else:
                send_by_round(person, one, prepared.scale_id)


def test_ten_batches_are_judged_as_of_every_weighing_like_brute_force(tmp_path):
    with RunningHouse(tmp_path / "house") as house:
        prepared = prepare(house, BY_API + BY_ROUND, checked=CHECKED)
        weigh_everything(house, prepared)
        wait_until(lambda: read_back(house)["wanted"] == 0, seconds=PATIENCE_SECONDS, what="every weighing to be assessed")
        found = read_back(house)
    sent = [one.client_id for batch in prepared.batches for one in batch.weighings]
    assert sorted(client_id for client_id, _doubt in found["readings"]) == sorted(sent)
    said = {client_id: rest for client_id, *rest in found["said"]}
    assert len(found["said"]) == len(sent)
    doubtful = dict(found["readings"])
    states = {batch.name: check_batch(batch, said, doubtful) for batch in prepared.batches}
    assert set().union(*states.values()) == {"curing", "check_due", "ready", "too_soft", "look_again"}
    assert {name for name, ones in states.items() if ones[-1] == "too_soft"} == END_TOO_SOFT
    assert any(doubtful.values())
