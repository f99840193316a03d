"""A minute and a half in the life of a running house, told for its mail.

Web, worker and scheduler are the processes that `manage.py start` starts, the mail server is real
SMTP on this computer. Other processes write to the house through its services; nothing here runs a
task or patches a clock. What was seen is kept, for tests to judge.
"""

import json
import re
import sqlite3
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from textwrap import dedent
from typing import Any

from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until
from tests.smtp_peer import Received, SmtpPeer

MANY = 20
# What the house logs comes out with what a command prints.
_LOG_LINE = re.compile(r"\[\d{4}-\d\d-\d\d ")
KILL_WORKER_AFTER = 4
KILL_HOUSE_AFTER = 11
# Lease and first retry are a minute each; the rest is a slow computer.
ALL_ENDED_WITHIN_SECONDS = 300.0
A_MINUTE = 60.0
# Longer than anybody waits for an answer: the letter in hand is cut off first.
NO_ANSWER_SECONDS = 150.0
# Long enough that neither kill comes too late on a busy computer.
EACH_OF_MANY_SECONDS = 0.5

_COMMON = """
import json
from datetime import timedelta
from django.db import transaction
from django.utils import timezone
from curehouse.curing.models import SampleBar
from curehouse.notices import services as notices
from curehouse.workshops.actors import the_house
from curehouse.workshops.models import Workshop
from curehouse.workshops.mornings import claim_morning
from curehouse.workshops.services import change_preferences
from tests.factories import ReadingEntryFactory, ReadingFactory
from tests.world import World
now = timezone.now()
def tell(title, *, at=now, kind="ready"):
    return notices.tell(workshop=Workshop.objects.get(pk=1), key=f"{kind}:{title}", kind=kind, about=title, mark="ready",
                        title=title, body="It lost 0.41 % in the last seven days.", path="/", at=at)
"""

_OPEN = """
with transaction.atomic():
    first = World(now=now)
    batch = first.batch(cut_days_ago=30, sample_bars=1)
    for day, weight in ((0, "130.0"), (7, "121.0"), (14, "118.0"), (21, "117.0")):
        first.weigh(first.bar(batch), weight, moment=first.days_ago(30 - day))
    claim_morning(workshop=first.workshop, day=now.date() + timedelta(days=1))
    second = World(now=now, name="Thistlewick Soapery", email="ida@thistlewick.example")
    second.batch(cut_days_ago=10)
    morning = (now + timedelta(minutes=1)).replace(second=0, microsecond=0)
    change_preferences(workshop=second.workshop, changes={"time_zone": "UTC", "morning_at": morning.time()})
    print(json.dumps(morning.timestamp()))
"""

_WEIGH = """
workshop = Workshop.objects.get(pk=1)
bar = SampleBar.objects.within(workshop).get()
entry = ReadingEntryFactory(weight="116.6", moment=now - timedelta(days=1), scale=None)
ReadingFactory(actor=the_house(workshop), bar=bar, entry=entry, at=now)
print(json.dumps(str(bar.batch)))
"""


@dataclass
class MailStory:
    """What was seen of one house; `live` goes through it."""

    data: Path
    transport: dict[str, str]
    peer: SmtpPeer = field(default_factory=SmtpPeer)
    set_up_says: str = ""
    cured: str = ""
    morning_at: float = 0.0
    digest_seen_at: float = 0.0
    while_down: dict[str, tuple[str, int, str]] = field(default_factory=dict)
    many_at_kills: list[int] = field(default_factory=list)
    ended: dict[str, tuple[str, int, str]] = field(default_factory=dict)
    logs: str = ""

    def live(self) -> None:
        """Go through the story once."""
        env = {"CUREHOUSE_TICK_SECONDS": "2", **self.transport}
        with RunningHouse(self.data, env=env) as house:
            self.morning_at = self._say(house, _OPEN)
            self._without_mail(house)
            self._set_up_later(house)
            self.cured = self._say(house, _WEIGH)
            self._arrives(f"{self.cured} is dry enough: check due")
            self._server_down(house)
            self._killed(house)
            self._morning()
            self._all_end()
            self.logs = house.logs() + house.output()
        self.peer.stop()

    def arrivals(self, title: str) -> list[Received]:
        """Return what arrived under a title, to anyone."""
        return self.peer.about(title)

    def arrivals_by_title(self) -> Counter[str]:
        """Return how often each title arrived."""
        return Counter(self.peer.subjects())

    def _say(self, house: RunningHouse, code: str) -> Any:
        done = house.manage("shell", "--no-imports", "-c", dedent(_COMMON) + dedent(code))
        assert done.returncode == 0, done.stdout
        lines = [line for line in done.stdout.strip().splitlines() if not _LOG_LINE.match(line)]
        return json.loads(lines[-1]) if lines else None

    def _without_mail(self, house: RunningHouse) -> None:
        self._say(house, "tell('Fresh'); tell('Old', at=now - timedelta(hours=25))")
        self._states({"Fresh": "no_mail", "Old": "no_mail"})

    def _set_up_later(self, house: RunningHouse) -> None:
        self.peer.start()
        self.set_up_says = house.manage("mail_setup", "--url", self.peer.url).stdout
        self._arrives("Fresh")

    def _server_down(self, house: RunningHouse) -> None:
        self.peer.stop()
        self._say(house, "with transaction.atomic():\n    tell('Waits')\n    tell('Withdrawn')")
        wait_until(
            # Whichever has its turn first; the other is put back untried.
            lambda: sorted(self._rows()[t][:2] for t in ("Waits", "Withdrawn")) == [("waiting", 0), ("waiting", 1)],
            seconds=PATIENCE_SECONDS,
            what="the first letter to find the server down",
        )
        self.while_down = self._rows()
        self._say(
            house,
            """
            notices.withdraw(workshop=Workshop.objects.get(pk=1), about="Withdrawn", reason="Changed meanwhile.", at=now)
        """,
        )
        self.peer.start()

    def _killed(self, house: RunningHouse) -> None:
        """Kill the worker amid one mail that waits for its answer; worker and supervisor amid twenty."""
        self.peer.slow["Cut off"] = NO_ANSWER_SECONDS
        self._say(house, "tell('Cut off')")
        self._arrives("Cut off")
        house.child("worker").kill()
        del self.peer.slow["Cut off"]
        self.peer.slow |= {f"Many {number}": EACH_OF_MANY_SECONDS for number in range(MANY)}
        self._say(house, f"with transaction.atomic():\n    [tell(f'Many {{n}}') for n in range({MANY})]")
        self._many(KILL_WORKER_AFTER)
        house.child("worker").kill()
        self.many_at_kills.append(self._many_arrived())
        self._many(KILL_HOUSE_AFTER)
        house.kill()
        self.many_at_kills.append(self._many_arrived())
        house.start()

    def _many(self, number: int) -> None:
        wait_until(lambda: self._many_arrived() >= number, seconds=PATIENCE_SECONDS, what=f"{number} of the many")

    def _many_arrived(self) -> int:
        return sum(subject.startswith("Many ") for subject in self.peer.subjects())

    def _morning(self) -> None:
        wait_until(lambda: self._digests() > 0, seconds=2 * PATIENCE_SECONDS, what="the digest of the morning")
        self.digest_seen_at = time.time()

    def _digests(self) -> int:
        return sum("to see to" in subject for subject in self.peer.subjects())

    def _all_end(self) -> None:
        """Wait until nothing is under way, then long enough for a few ticks to do too much."""
        wait_until(
            lambda: not {"waiting", "sending"} & {row[0] for row in self._rows().values()},
            seconds=ALL_ENDED_WITHIN_SECONDS,
            what="every delivery to end",
        )
        time.sleep(7)
        self.ended = self._rows()

    def _arrives(self, title: str) -> None:
        wait_until(lambda: title in self.peer.subjects(), seconds=A_MINUTE, what=f"mail “{title}”\n{self._rows()}")

    def _states(self, wanted: dict[str, str]) -> None:
        wait_until(lambda: {t: self._rows()[t][0] for t in wanted} == wanted, seconds=PATIENCE_SECONDS, what=str(wanted))

    def _rows(self) -> dict[str, tuple[str, int, str]]:
        """Return each delivery's state, attempts and reason, by its notice's title."""
        query = (
            "SELECT title, d.state, attempts, last_error FROM notices_delivery d JOIN notices_notice n ON n.id = d.notice_id"
        )
        with closing(sqlite3.connect(self.data / "curehouse.sqlite3", timeout=20)) as database:
            return {title: (state, attempts, why) for title, state, attempts, why in database.execute(query)}
