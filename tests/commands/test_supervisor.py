"""The supervisor's patience, with parts that fail on purpose."""

import errno
from pathlib import Path

import pytest

from curehouse.commands.house import children, supervisor
from curehouse.commands.house.children import Child
from curehouse.commands.house.logs import MAX_BYTES, keep_small, last_lines
from curehouse.commands.house.refusal import Refused
from curehouse.commands.house.signals import Wish
from curehouse.commands.house.supervisor import GIVE_UP_AFTER, LONGEST_PAUSE_SECONDS, Supervisor, pause_before_restart


class Faulty:
    """Ends at once *failures* times, then lives; *asks* is called at its first quiet look."""

    def __init__(self, failures: int, wish: Wish) -> None:
        self.name = "faulty"
        self.failures = failures
        self.starts = 0
        self.ended = False
        self.cleared = 0
        self._wish = wish

    def start(self) -> None:
        self.starts += 1

    def end_reason(self) -> str | None:
        if self.ended or self.starts <= self.failures:
            return "exit code 3"
        self._wish.hear(15, None)
        return None

    def ask_to_end(self) -> None:
        self.ended = True

    def clear_away(self) -> None:
        self.cleared += 1

    def last_words(self) -> list[str]:
        return ["cold lye"]

    def keep_log_small(self) -> None:
        raise AssertionError("too early")


def _held_wish() -> Wish:
    wish = Wish()
    wish.hold()
    return wish


def supervise(part: Faulty | Child, wish: Wish) -> list[str]:
    said: list[str] = []
    Supervisor([part], wish, say=said.append, on_look=lambda: None, pause=lambda _: 0.0, look_every=0.001).run()
    return said


def test_part_that_ends_is_started_again_and_cleared_away_before() -> None:
    wish = _held_wish()
    part = Faulty(failures=3, wish=wish)
    said = supervise(part, wish)
    assert part.starts == 4
    assert part.cleared == 4  # three times after a failure, once at the end
    assert said == ["The faulty ended (exit code 3); starting it again."] * 3


def test_part_that_cannot_be_started_is_tried_until_it_can_and_that_is_said_once(monkeypatch: pytest.MonkeyPatch) -> None:
    wish = _held_wish()
    part = Faulty(failures=0, wish=wish)
    tries: list[int] = []

    def full_at_first() -> None:
        tries.append(1)
        if len(tries) < 4:
            raise OSError(errno.ENOSPC, "No space left on device")
        part.starts += 1

    monkeypatch.setattr(part, "start", full_at_first)
    assert supervise(part, wish) == ["The faulty can't be started (No space left on device); trying until it can."]
    assert (len(tries), part.starts) == (4, 1)


def test_log_that_cannot_be_kept_small_is_said_and_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def full() -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    wish = _held_wish()
    part = Faulty(failures=0, wish=wish)
    monkeypatch.setattr(part, "keep_log_small", full)
    monkeypatch.setattr(supervisor, "LOGS_EVERY_SECONDS", 0.0)
    said = supervise(part, wish)
    assert said[:1] == ["The log of the faulty can't be kept small (No space left on device)."]
    assert part.cleared == 1


def test_supervisor_gives_up_after_ten_quick_failures_and_shows_the_last_lines() -> None:
    wish = _held_wish()
    part = Faulty(failures=99, wish=wish)
    with pytest.raises(Refused, match=rf"(?s)ended {GIVE_UP_AFTER} times within seconds \(exit code 3\).*cold lye"):
        supervise(part, wish)
    assert part.starts == GIVE_UP_AFTER


def test_real_child_that_cannot_start_is_given_up_with_its_own_words(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(children, "CHILD", "curehouse.no_such_module")
    with pytest.raises(Refused, match="No module named curehouse.no_such_module"):
        supervise(Child("web", [], tmp_path / "web.log"), _held_wish())


def test_pause_grows_and_stays_bounded() -> None:
    pauses = [pause_before_restart(number) for number in range(GIVE_UP_AFTER)]
    assert pauses[:2] == [0.0, 0.0]
    assert pauses == sorted(pauses)
    assert pauses[-1] == LONGEST_PAUSE_SECONDS


def test_log_over_its_limit_is_moved_aside_while_it_is_written_to(tmp_path: Path) -> None:
    log = tmp_path / "web.log"
    with log.open("ab") as stream:
        stream.write(b"x" * (MAX_BYTES + 1))
        stream.flush()
        keep_small(log)
        stream.write(b"after\n")
    assert log.read_bytes() == b"after\n"
    assert (tmp_path / "web.log.1").stat().st_size == MAX_BYTES + 1


def test_last_lines_are_those_since_the_start(tmp_path: Path) -> None:
    log = tmp_path / "web.log"
    log.write_text("old\n")
    since = log.stat().st_size
    with log.open("a") as stream:
        stream.write("new\n")
    assert last_lines(log, since=since) == ["new"]
    assert last_lines(tmp_path / "none.log", since=0) == []
