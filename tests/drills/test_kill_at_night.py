"""A worker is killed between what it learnt and what is to be foretold by it; the house's own worker goes on from there."""

import signal

from tests.browser.at_work import inside
from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until

_FILL = """
from curehouse.common.time import local_day
from curehouse.flows.foretell import learn_and_foretell
from curehouse.workshops.mornings import claim_morning
with transaction.atomic():
    world = World(now=now)
    # The house's morning is over: no other finds what is left.
    claim_morning(workshop=world.workshop, day=local_day(now, world.workshop.time_zone))
    for number in range(5):
        batch = world.batch(cut_days_ago=70 - 9 * number, sample_bars=1)
        last = 36 if number < 3 else 22
        weights = {day: f"{130 * (0.9 + 0.1 * 0.75 ** (day / 7)) + number % 3 * 0.2:.1f}" for day in range(0, last, 7)}
        world.weigh_series(batch, weights, letters="A")
learn_and_foretell(workshop_id=world.workshop.pk, at=now)
print(json.dumps(world.workshop.pk))
"""
_KILLED = """
import os
import signal
from django.utils import timezone
from curehouse.curing.models import Cure
from curehouse.flows import foretell
Cure.unscoped.filter(batch__number=Cure.unscoped.first().batch.number).update(ended_at=timezone.now(), due_on=None)
working, calls = foretell.foretell_batches, iter(range(10))
def step(**given):
    if next(calls) == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return working(**given)
foretell.foretell_batches, foretell.MOST_AT_ONCE, foretell.MOST_AT_NIGHT = step, 2, 2
foretell.learn_and_foretell(workshop_id=WORKSHOP, at=timezone.now())
"""
_STANDS = """
from curehouse.curing.models import Cure, CureLearning
learning = CureLearning.unscoped.first()
known = {key for _begin, key in learning.stages} if learning else set()
priors = list(Cure.unscoped.filter(ended_at__isnull=True).values_list("forecast__prior", flat=True))
print(json.dumps([len(priors), sum(one in known for one in priors), bool(learning and learning.claimed_until)]))
"""


def test_what_was_learnt_before_the_kill_is_foretold_after_it(tmp_path):
    with RunningHouse(tmp_path / "house", env={"CUREHOUSE_TICK_SECONDS": "2"}) as house:
        house.stop()
        workshop = inside(house, _FILL)
        assert inside(house, _STANDS) == [5, 5, False]
        done = house.manage("shell", "--no-imports", "-c", _KILLED.replace("WORKSHOP", f"{workshop}"))
        assert done.returncode == -signal.SIGKILL, done.stdout
        assert inside(house, _STANDS) == [4, 2, False]
        house.start()
        wait_until(lambda: inside(house, _STANDS) == [4, 4, False], seconds=PATIENCE_SECONDS, what="the rest of the night")
