"""What a house costs while nobody asks it anything: ``python -m tests.benchmarks.idle [SECONDS]``.

Starts a house on an empty folder, and prints the seconds to its first page, the memory of the
whole process tree (PSS: shared pages counted once) and the share of one core it uses while idle.
Linux only (``/proc/PID/smaps_rollup``). Ends with 1 if a limit is passed.
"""

import sys
import tempfile
import time
from pathlib import Path

import psutil

from tests.house import RunningHouse

FIRST_PAGE_SECONDS = 5.0
PSS_MB = 250.0
CORE_PERCENT = 1.0
SETTLE_SECONDS = 5.0


def pss_mb(process: psutil.Process) -> float:
    """Return the proportional share of memory of one process."""
    for line in Path(f"/proc/{process.pid}/smaps_rollup").read_text(encoding="ascii").splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1]) / 1024
    raise ValueError(f"no Pss of process {process.pid}")


def cpu_seconds(processes: list[psutil.Process]) -> float:
    """Return the processor time the processes have used so far."""
    return sum(process.cpu_times().user + process.cpu_times().system for process in processes)


def role(process: psutil.Process) -> str:
    """Return a short name for a process of the tree."""
    words = process.cmdline()
    name = next((word for word in ("web", "worker", "start") if word in words), "other")
    return f"{name} {process.pid}"


def main(seconds: float) -> int:
    """Measure, print, and return 1 if a limit is passed."""
    with tempfile.TemporaryDirectory(prefix="curehouse-idle-") as folder:
        began = time.monotonic()
        with RunningHouse(Path(folder) / "data") as house:
            first_page = time.monotonic() - began
            time.sleep(SETTLE_SECONDS)
            processes = house.tree()
            before = cpu_seconds(processes)
            time.sleep(seconds)
            core = (cpu_seconds(processes) - before) / seconds * 100
            shares = {role(process): pss_mb(process) for process in processes}
    memory = sum(shares.values())
    for name, share in shares.items():
        print(f"  {name:<14} {share:6.1f} MB")
    print(f"first page  {first_page:5.2f} s   (limit {FIRST_PAGE_SECONDS:g})")
    print(f"memory      {memory:5.0f} MB  (limit {PSS_MB:g})")
    print(f"idle        {core:5.2f} %   of one core over {seconds:g} s (limit {CORE_PERCENT:g})")
    return int(first_page > FIRST_PAGE_SECONDS or memory > PSS_MB or core > CORE_PERCENT)


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0))
