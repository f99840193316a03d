"""What breaks is written down whole, where the person who mends it looks."""

import subprocess
import sys
from pathlib import Path

from tests.house import REPOSITORY, clean_environment

BREAK_A_PAGE = """
import django
django.setup()
from django.middleware.common import CommonMiddleware
from django.test import Client
def broken(*_args):
    raise RuntimeError("the very fault")
CommonMiddleware.process_request = broken
print(Client(raise_request_exception=False).get("/healthz", HTTP_HOST="localhost").status_code)
import logging
logging.getLogger("curehouse.flows.anything").info("batch written: batch=%s", 7)
"""


def test_a_fault_is_logged_with_its_traceback_and_an_event_in_one_line(tmp_path: Path) -> None:
    env = clean_environment({"CUREHOUSE_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "curehouse.settings"})
    done = subprocess.run(
        [sys.executable, "-c", BREAK_A_PAGE], cwd=REPOSITORY, env=env, capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "500"
    assert "Traceback (most recent call last)" in done.stderr
    assert "RuntimeError: the very fault" in done.stderr
    assert "INFO curehouse.flows.anything: batch written: batch=7" in done.stderr
