"""How fast forecasts are against fits bar by bar, and what many of them hold in memory."""

import subprocess
import sys

import pytest


@pytest.mark.long
def test_no_limit_of_speed_or_memory_is_passed() -> None:
    """Modes at least 8 times, full forecasts at least once as fast; 10,000 batches in 500 MB, in time linear."""
    said = subprocess.run([sys.executable, "-m", "tests.benchmarks.cure_speed"], capture_output=True, text=True, check=False)
    assert said.returncode == 0, said.stdout + said.stderr
