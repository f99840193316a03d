"""What Django itself says of the settings of a house that others reach, and who may read its secrets."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house import REPOSITORY, clean_environment, run_manage


def test_a_house_reached_by_https_passes_the_check_for_deployment(tmp_path: Path) -> None:
    checked = run_manage("check", "--deploy", "--fail-level", "WARNING", data=tmp_path / "data", env={"CUREHOUSE_TLS": "1"})
    assert checked.returncode == 0, checked.stdout


def test_without_https_the_same_check_says_what_is_missing(tmp_path: Path) -> None:
    checked = run_manage("check", "--deploy", "--fail-level", "WARNING", data=tmp_path / "data")
    assert checked.returncode != 0
    for code in ("security.W004", "SESSION_COOKIE_SECURE", "security.W016"):
        assert code in checked.stdout


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o777 & ~0o700])
@pytest.mark.parametrize("door", ["manage.py", "settings alone"])
def test_the_secret_key_is_its_owners_alone_under_any_umask(tmp_path: Path, umask: int, door: str) -> None:
    data = tmp_path / "data"
    code = "import os; from django.conf import settings; assert len(settings.SECRET_KEY) >= 50"
    words = ["manage.py", "shell", "--no-imports", "-c", code, "--data", str(data)] if door == "manage.py" else ["-c", code]
    env = clean_environment({"CUREHOUSE_DATA": str(data), "DJANGO_SETTINGS_MODULE": "curehouse.settings"})
    # What would let others read is set in the child alone.
    done = subprocess.run(
        [sys.executable, *words],
        cwd=REPOSITORY,
        env=env,
        preexec_fn=lambda: os.umask(umask) and None,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert (data / "secret-key").stat().st_mode & 0o777 == 0o600
    assert data.stat().st_mode & 0o777 == 0o700
    assert sorted(one.name for one in data.iterdir() if one.name.startswith("secret-key")) == ["secret-key"]
