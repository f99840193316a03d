"""The environment is read once, and a wrong value is said at the start."""

from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured

from curehouse.settings import env


@pytest.mark.parametrize(
    ("value", "means"), [("1", True), ("Yes", True), (" on ", True), ("0", False), ("no", False), ("", False)]
)
def test_a_flag_is_a_yes_or_a_no(monkeypatch: pytest.MonkeyPatch, value: str, *, means: bool) -> None:
    monkeypatch.setenv("CH_FLAG", value)
    assert env.flag("CH_FLAG", default=not means) is means


def test_a_flag_that_is_not_set_is_its_default(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CH_FLAG", raising=False)
    assert (env.flag("CH_FLAG"), env.flag("CH_FLAG", default=True)) == (False, True)


def test_a_flag_that_says_maybe_stops_the_start_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CH_FLAG", "maybe")
    with pytest.raises(ImproperlyConfigured, match="CH_FLAG is 'maybe'"):
        env.flag("CH_FLAG")


def test_a_number_that_is_none_stops_the_start_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CH_NUMBER", "thirty")
    with pytest.raises(ImproperlyConfigured, match="CH_NUMBER is 'thirty'"):
        env.integer("CH_NUMBER", 30, least=1, most=60)
    monkeypatch.setenv("CH_NUMBER", " 15 ")
    assert env.integer("CH_NUMBER", 30, least=1, most=60) == 15


@pytest.mark.parametrize("value", ["0", "-5", "61", "99999999999999999999"])
def test_a_number_out_of_its_bounds_stops_the_start_with_them(monkeypatch: pytest.MonkeyPatch, value: str) -> None:
    monkeypatch.setenv("CH_NUMBER", value)
    with pytest.raises(ImproperlyConfigured, match=f"CH_NUMBER is {value}; write a whole number from 1 to 60"):
        env.integer("CH_NUMBER", 30, least=1, most=60)


def test_a_secret_may_stand_in_a_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("hush\n", encoding="utf-8")
    monkeypatch.delenv("CH_SECRET", raising=False)
    monkeypatch.setenv("CH_SECRET_FILE", str(tmp_path / "secret"))
    assert env.text("CH_SECRET") == "hush"
    monkeypatch.setenv("CH_SECRET", "said")
    assert env.text("CH_SECRET") == "said"


def test_a_secret_file_that_is_not_there_stops_the_start(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("CH_SECRET", raising=False)
    monkeypatch.setenv("CH_SECRET_FILE", str(tmp_path / "gone"))
    with pytest.raises(ImproperlyConfigured, match="CH_SECRET_FILE"):
        env.text("CH_SECRET")


def test_a_list_is_split_at_commas(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CH_LIST", " a, b,,c ")
    assert env.words("CH_LIST") == ["a", "b", "c"]
