"""Sixty weighings, and in the middle of them worker, web and supervisor are killed.

What was answered is there once; a device that got no answer sends the same weighing again. Each
batch ends dry enough, and its notice reaches the mail server once.
"""

import json
import time
import urllib.error
from collections import Counter
from http.client import HTTPException

from tests.drills.main_job import Prepared, Weighing, prepare
from tests.drills.test_main_job import read_back
from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until
from tests.smtp_peer import SmtpPeer
from tests.visitor import Device

BATCHES = ["B01", "B02", "B03", "B04", "B06", "B07"]
WEIGHINGS = 60
KILLS = {15: "worker", 30: "web", 45: "supervisor"}
NOTICES = """
import json
from curehouse.notices.models import Delivery
print("NOTICES " + json.dumps([[d.notice.title, d.state, d.notice.state, d.attempts]
      for d in Delivery.unscoped.select_related("notice").order_by("pk")]))
"""


def kill(house: RunningHouse, what: str) -> None:
    if what == "supervisor":
        house.kill()
        house.start()
        return
    for process in [house.child(what), *house.child(what).children(recursive=True)]:
        process.kill()


def send_until_answered(device: Device, weighing: Weighing, scale_id: int) -> int:
    content = {
        "client_id": weighing.client_id,
        "bar": weighing.bar_id,
        "moment": weighing.moment.isoformat(),
        "weight_g": str(weighing.row.weight_g),
        "scale": scale_id,
    }
    for _try in range(480):
        try:
            answer = device.post("/api/v1/readings/", content)
        except (urllib.error.URLError, HTTPException, OSError):
            time.sleep(0.25)
            continue
        assert answer.status in (200, 201), answer.text
        return answer.status
    raise AssertionError("the house did not come back")


def last_sixty(prepared: Prepared) -> tuple[list[Weighing], list[Weighing]]:
    every = [one for batch in prepared.batches for one in batch.weighings]
    every.sort(key=lambda one: (one.moment, one.client_id))
    return every[:-WEIGHINGS], every[-WEIGHINGS:]


def deliveries(house: RunningHouse) -> list[list]:
    done = house.manage("shell", "-c", NOTICES)
    line = next((line for line in done.stdout.splitlines() if line.startswith("NOTICES ")), None)
    assert line, done.stdout
    return json.loads(line.removeprefix("NOTICES "))


def test_every_answered_weighing_and_every_notice_is_there_once_after_three_kills(tmp_path):
    with SmtpPeer() as peer:
        env = {"EMAIL_URL": peer.url, "CUREHOUSE_TICK_SECONDS": "2"}
        with RunningHouse(tmp_path / "house", env=env) as house:
            prepared = prepare(house, BATCHES)
            device = Device(house.base_url, prepared.secret)
            before, under_fire = last_sixty(prepared)
            for one in before:
                send_until_answered(device, one, prepared.scale_id)
            for number, one in enumerate(under_fire):
                if number in KILLS:
                    kill(house, KILLS[number])
                send_until_answered(device, one, prepared.scale_id)
            wait_until(lambda: read_back(house)["wanted"] == 0, seconds=PATIENCE_SECONDS, what="every weighing to be assessed")
            wait_until(
                lambda: all(state not in ("waiting", "sending") for _t, state, _n, _a in deliveries(house)),
                # A letter a killed worker had in hand waits for its lease of a minute.
                seconds=2 * PATIENCE_SECONDS,
                what="every delivery to end",
            )
            found, sent = read_back(house), deliveries(house)
    assert Counter(client_id for client_id, _doubt in found["readings"]) == Counter(
        one.client_id for one in [*before, *under_fire]
    )
    assert max(Counter(client_id for client_id, *_rest in found["said"]).values()) == 1
    told = Counter(title for title, state, _notice, _attempts in sent if state in ("sent", "twice"))
    arrived = Counter(message.subject for message in peer.messages)
    assert told
    flagged = {title for title, state, _notice, _attempts in sent if state == "twice"}
    for title, number in told.items():
        assert number <= arrived[title] <= number + (title in flagged)
    assert {title for title, *_rest in sent} >= set(arrived)
