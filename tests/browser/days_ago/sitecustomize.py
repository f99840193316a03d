"""Python runs this first in each process that finds it on its path: the clock is as many days behind as DAYS_AGO says."""

import os
from datetime import UTC, datetime, timedelta

import time_machine

if os.environ.get("DAYS_AGO"):
    time_machine.travel(datetime.now(UTC) - timedelta(days=int(os.environ["DAYS_AGO"])), tick=True).start()
