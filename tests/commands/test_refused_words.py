"""A command that is refused says why in one sentence and leaves nothing behind."""

from contextlib import closing
from pathlib import Path
from sqlite3 import connect

import pytest
from django.core.management import get_commands, load_command_class

from curehouse.commands.house.soundness import DATABASE
from tests.house import RunningHouse, free_port, run_manage


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("start", "--bogus"), "--bogus is no option of start. `manage.py start --help` lists what can be said."),
        (("start", "--por", "8290"), "--por is no option of start; was --port meant? `manage.py start --help` lists"),
        (("start", "8290"), "'8290' follows no option of start that takes a value. `manage.py start --help` lists"),
        (("start", "--port"), "argument --port: expected one argument. `manage.py start --help` lists"),
        (("start", "--restore", ""), "argument --restore: the name of the file is empty; write one."),
        (("backup", ""), "argument FILE: the name of the file is empty; write one. `manage.py backup --help` lists"),
        (("backup",), "the following arguments are required: FILE. `manage.py backup --help` lists"),
        (("backup", "new.zip", "--quick"), "--quick is no option of backup. `manage.py backup --help` lists"),
        (("backup", "new.zip"), "{data} holds no house yet; start it once first, or choose it with --data."),
        (("verify_places",), "{data} holds no house yet; start it once first, or choose it with --data."),
        (("verify_rooms",), "{data} holds no house yet; start it once first, or choose it with --data."),
        (("verify_ledger",), "{data} holds no house yet; start it once first, or choose it with --data."),
        (("check_runs",), "the following arguments are required: FILE, --out. `manage.py check_runs --help` lists"),
        (("check_runs", "no.json", "--out", "a.json"), "no.json cannot be read as JSON in UTF-8: [Errno 2] No such file"),
        (
            ("reorder_levels", "none", "--out", "a.json"),
            "none/meta.json cannot be read as JSON in UTF-8: [Errno 2] No such file",
        ),
        (("bring_in", "stock", "s.csv"), "{data} holds no house yet; start it once first, or choose it with --data."),
    ],
)
def test_refused_words_are_answered_in_one_sentence_and_make_no_folder(
    tmp_path: Path, words: tuple[str, ...], sentence: str
) -> None:
    data = tmp_path / "data"
    refused = run_manage(*words, data=data)
    assert (refused.returncode, refused.stdout.count("\n")) == (2, 1), refused.stdout
    assert refused.stdout.startswith(f"Curehouse: {sentence.format(data=data)}")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("start", "--help"), ("help", "start"), ("backup", "--help"), ("check",)])
def test_what_opens_no_house_leaves_nothing_in_the_data_folder(tmp_path: Path, words: tuple[str, ...]) -> None:
    data = tmp_path / "data"
    asked = run_manage(*words, data=data)
    assert asked.returncode == 0, asked.stdout
    assert not data.exists() or list(data.iterdir()) == []


OWN_COMMANDS = sorted(name for name, app in get_commands().items() if app == "curehouse.commands")


@pytest.mark.parametrize("command", OWN_COMMANDS)
def test_every_command_says_that_the_folder_can_be_chosen(command: str) -> None:
    """Each takes it (``early.take_data_option``), so each lists it."""
    said = load_command_class("curehouse.commands", command).create_parser("manage.py", command).format_help()
    assert "--data DIR" in said


def test_these_are_the_commands_of_the_house() -> None:
    assert {"start", "backup", "mail_setup", "verify_ledger"} <= set(OWN_COMMANDS)


def test_a_restore_goes_into_the_folder_of_commands_that_were_refused(tmp_path: Path) -> None:
    old, new, target = tmp_path / "old", tmp_path / "new", tmp_path / "thistle.zip"
    with RunningHouse(old) as house:
        assert house.manage("backup", str(target)).returncode == 0
        secret = (old / "secret-key").read_text()
    assert run_manage("backup", str(tmp_path / "none.zip"), data=new).returncode == 2
    assert run_manage("start", "--port", str(free_port()), "--bogus", data=new).returncode == 2
    assert run_manage("start", "--port", str(free_port()), "--cert", str(target), data=new).returncode == 2
    assert run_manage("check", data=new).returncode == 0
    with RunningHouse(new, "--restore", str(target)):
        assert (new / "secret-key").read_text() == secret
        with closing(connect(new / DATABASE)) as database:
            assert database.execute("SELECT count(*) FROM django_migrations").fetchone()[0] > 0
