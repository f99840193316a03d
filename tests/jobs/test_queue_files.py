"""The built-in queue: whole messages or none, with kombu's own channel as the negative control."""

import json
from collections.abc import Iterator
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection
from kombu.transport import filesystem

from curehouse.jobs.queue_files import Channel


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "queue").mkdir()
    return tmp_path / "queue"


@pytest.fixture
def connection(folder: Path) -> Iterator[Connection]:
    options = {
        "data_folder_in": str(folder),
        "data_folder_out": str(folder),
        "control_folder": str(folder.with_name("control")),
    }
    with Connection("filesystem://", transport="curehouse.jobs.queue_files:Transport", transport_options=options) as open_one:
        yield open_one


@pytest.fixture
def channel(connection: Connection) -> Channel:
    return connection.channel()


def test_messages_come_out_in_the_order_they_went_in_and_leave_nothing_behind(channel: Channel, folder: Path) -> None:
    for number in range(3):
        channel._put("celery", {"number": number})
    assert [channel._get("celery")["number"] for _ in range(3)] == [0, 1, 2]
    with pytest.raises(Empty):
        channel._get("celery")
    assert list(folder.iterdir()) == []


def test_message_is_not_seen_before_it_is_whole(channel: Channel, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []
    put_in_place = Path.replace

    def look_first(draft: Path, target: Path) -> Path:
        with pytest.raises(Empty):
            channel._get("celery")
        seen.append(json.loads(draft.read_text()))
        return put_in_place(draft, target)

    monkeypatch.setattr(Path, "replace", look_first)
    channel._put("celery", {"number": 1})
    assert seen == [{"number": 1}]
    assert channel._get("celery") == {"number": 1}


def test_spoilt_message_is_dropped_and_the_next_one_read(channel: Channel, folder: Path) -> None:
    (folder / f"{0:020d}_spoilt.celery.msg").touch()
    channel._put("celery", {"number": 1})
    with pytest.raises(Empty):
        channel._get("celery")
    assert channel._get("celery") == {"number": 1}


def test_kombus_own_channel_fails_on_a_message_that_is_not_filled_yet(channel: Channel, folder: Path) -> None:
    (folder / "0_empty.celery.msg").touch()
    with pytest.raises(ValueError, match="char 0"):
        filesystem.Channel._get(channel, "celery")


def test_table_of_queues_is_never_empty_for_a_publisher(
    channel: Channel, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tables = []
    bind = filesystem.Channel._queue_bind

    def look_first(self: Channel, *args: str) -> None:
        tables.append(self.get_table("celery"))
        bind(self, *args)

    monkeypatch.setattr(filesystem.Channel, "_queue_bind", look_first)
    channel._queue_bind("celery", "celery", "", "celery")
    channel._queue_bind("celery", "other", "", "other")
    assert [len(table) for table in tables] == [0, 1]
    assert sorted(one.queue for one in channel.get_table("celery")) == ["celery", "other"]
