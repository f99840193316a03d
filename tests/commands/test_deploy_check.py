"""What Django itself says of the settings of a house that others reach, and who may read its secrets."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house import REPOSITORY, clean_environment, free_port, run_manage


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


READ_SECRET = "from django.conf import settings; assert len(settings.SECRET_KEY) >= 32"


def test_a_secret_key_that_others_could_read_is_its_owners_alone_again(tmp_path: Path) -> None:
    """It was copied in, or unpacked from somewhere."""
    data = tmp_path / "data"
    data.mkdir()
    (data / "secret-key").write_text("a" + "0123456789" * 5)
    (data / "secret-key").chmod(0o664)
    read = run_manage("shell", "--no-imports", "-c", READ_SECRET, data=data)
    assert read.returncode == 0, read.stdout
    assert (data / "secret-key").stat().st_mode & 0o777 == 0o600
    assert (data / "secret-key").read_text() == "a" + "0123456789" * 5


@pytest.mark.parametrize("given", ["x", "changeme", "a" * 60, "0123456789abcdef0123456789abcde"])
def test_a_secret_key_that_could_be_guessed_opens_no_house(tmp_path: Path, given: str) -> None:
    """Whoever guesses it sets the house up, and is taken for a browser that is known here."""
    refused = run_manage("start", "--port", str(free_port()), data=tmp_path / "data", env={"SECRET_KEY": given})
    assert (refused.returncode, refused.stdout.count("\n")) == (2, 1), refused.stdout
    assert "SECRET_KEY could be guessed: make it 32 letters or more" in refused.stdout
    assert f"{given!r}" not in refused.stdout


def test_a_secret_key_of_random_digits_is_taken(tmp_path: Path) -> None:
    taken = run_manage(
        "shell", "--no-imports", "-c", READ_SECRET, data=tmp_path / "data", env={"SECRET_KEY": "0123456789abcdef" * 2}
    )
    assert taken.returncode == 0, taken.stdout


@pytest.mark.parametrize("words", [["start", "--lan", "127.0.0.2"], ["serve", "--host", "0.0.0.0"], ["serve", "--host", "::"]])
def test_error_pages_that_show_the_settings_are_shown_to_no_network(tmp_path: Path, words: list[str]) -> None:
    """Somebody has DEBUG set for another program; a wrong Host header would be answered with all settings."""
    refused = run_manage(*words, "--port", str(free_port()), data=tmp_path / "data", env={"DEBUG": "1"}, timeout=60)
    assert (refused.returncode, refused.stdout.count("\n")) == (2, 1), refused.stdout
    assert "unset DEBUG, or serve this computer alone" in refused.stdout
