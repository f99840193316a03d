"""Many weighings in one request: all or none, once each, asked about as if they had come one by one."""

import random
import uuid
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from api.bulk import plain_row
from api.readings import ReadingIn, entry_of
from curehouse.curing.models import Cure, Reading, SampleBar
from curehouse.flows.weigh import keep, weigh
from curehouse.flows.weigh_many import WeighingRow, weigh_many
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from curehouse.notices.services import tell
from curehouse.workshops.services import add_tare
from tests.api.device import Device, problem, reading
from tests.world import World

BULK = "readings/bulk/"


def rows_of(world: World, batch: Batch, *, weeks: int = 3) -> list[dict[str, Any]]:
    """Return weighings of three bars that dry as bars do."""
    weights = ("120.0", "115.5", "113.2", "111.8", "110.9")
    return [
        reading(world.bar(batch, letter), weights[week], batch.cut_at + timedelta(days=7 * week, hours=1))
        for week in range(weeks)
        for letter in "ABC"
    ]


def stored(world: World) -> list[tuple[Any, ...]]:
    rows = Reading.objects.within(world.workshop).order_by("moment", "bar")
    return [(row.bar_id, row.moment, row.weight_g, row.doubt, row.doubt_guess_g, row.doubt_detail) for row in rows]


def test_weighings_sent_together_are_all_written(world: World, device: Device) -> None:
    batch = world.batch()
    sent = rows_of(world, batch)
    answer = device.post(BULK, {"readings": sent})
    assert answer.status_code == 201, answer.content
    body = answer.json()
    assert (body["written"], body["sent_before"]) == (9, 0)
    assert [row["client_id"] for row in body["readings"]] == [row["client_id"] for row in sent]
    assert {row["result"] for row in body["readings"]} == {"written"}
    for row in body["readings"]:
        assert Reading.objects.within(world.workshop).get(pk=row["id"]).client_id == uuid.UUID(row["client_id"])
    cure = Cure.objects.within(world.workshop).get()
    assert cure.assess_wanted_at is not None
    assert cure.last_weighed_at.isoformat() == sent[-1]["moment"]
    assert cure.last_reading_id == body["readings"][-1]["id"]


def test_a_weigh_notice_is_closed_by_weighings_sent_together(
    world: World, device: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.views.timezone", SimpleNamespace(now=lambda: world.now))
    batch = world.batch(cut_days_ago=15)
    told = {"kind": "weigh", "about": f"batch:{batch.pk}", "mark": "", "title": "Weigh", "body": "", "path": "/"}
    tell(workshop=world.workshop, key="weigh:1", at=world.now, **told)
    device.post(BULK, {"readings": rows_of(world, batch)})
    assert Notice.objects.within(world.workshop).get().state == "done"


def test_weighings_sent_again_are_answered_and_not_written_twice(world: World, device: Device) -> None:
    sent = rows_of(world, world.batch())
    first = device.post(BULK, {"readings": sent[:6]}).json()
    answer = device.post(BULK, {"readings": sent})
    assert (answer.status_code, answer.json()["written"], answer.json()["sent_before"]) == (201, 3, 6)
    assert [row["id"] for row in answer.json()["readings"][:6]] == [row["id"] for row in first["readings"]]
    again = device.post(BULK, {"readings": sent})
    assert (again.status_code, again.json()["sent_before"]) == (200, 9)
    assert Reading.objects.within(world.workshop).count() == 9


def test_one_weighing_twice_in_a_request_is_written_once(world: World, device: Device) -> None:
    sent = rows_of(world, world.batch())[:2]
    body = device.post(BULK, {"readings": [*sent, sent[0]]}).json()
    assert (body["written"], body["sent_before"]) == (2, 1)
    assert body["readings"][2]["id"] == body["readings"][0]["id"]
    assert [row["result"] for row in body["readings"]] == ["written", "written", "sent_before"]


def test_two_weighings_under_one_id_are_refused(world: World, device: Device) -> None:
    sent = rows_of(world, world.batch())[:2]
    sent[1]["client_id"] = sent[0]["client_id"]
    errors = problem(device.post(BULK, {"readings": sent}), 400, "rows")["errors"]
    assert [(one["row"], one["field"], one["code"]) for one in errors] == [(1, "client_id", "id_used")]


def test_every_row_that_cannot_be_taken_is_named_and_nothing_is_written(world: World, stranger: World, device: Device) -> None:
    sent = rows_of(world, world.batch())
    used = rows_of(world, world.batch())[0]
    device.post("readings/", used)
    sent[0]["bar"] = stranger.bar(stranger.batch()).pk
    sent[1]["scale"] = stranger.scale.pk
    sent[3]["moment"] = "2150-01-01T00:00:00+00:00"
    sent[4]["moment"] = "2001-01-01T00:00:00+00:00"
    sent[5]["weight_g"] = "0"
    sent[6]["weight_g"] = "30000"
    sent[7]["client_id"] = used["client_id"]
    body = problem(device.post(BULK, {"readings": sent}), 400, "rows")
    assert [(one["row"], one["field"], one["code"]) for one in body["errors"]] == [
        (0, "bar", "not_here"),
        (1, "scale", "not_here"),
        (3, "moment", "future"),
        (4, "moment", "before_cut"),
        (5, "weight_g", "weight"),
        (6, "weight_g", "weight"),
        (7, "client_id", "id_used"),
    ]
    assert body["detail"].startswith("7 of 9 rows")
    assert Reading.objects.within(world.workshop).count() == 1


def test_rows_that_cannot_be_read_are_named_with_all_their_fields(world: World, device: Device) -> None:
    good = rows_of(world, world.batch())[0]
    bad: list[Any] = [
        None,
        [],
        "row",
        good | {"client_id": "seven", "moment": "soon"},
        good | {"weight_g": "1e999"},
        good | {"weigth_g": 5},
        {name: value for name, value in good.items() if name != "bar"},
        good | {"moment": "2026-02-30T10:00:00+00:00"},
        good | {"bar": [1]},
        good | {"bar": 2**70},
    ]
    errors = problem(device.post(BULK, {"readings": [good, *bad]}), 400, "rows")["errors"]
    assert [(one["row"], one["field"], one["code"]) for one in errors] == [
        (1, None, "null"),
        (2, None, "invalid"),
        (3, None, "invalid"),
        (4, "client_id", "invalid"),
        (4, "moment", "invalid"),
        (5, "weight_g", "max_digits"),
        (6, "weigth_g", "unknown_field"),
        (7, "bar", "required"),
        (8, "moment", "invalid"),
        (9, "bar", "invalid"),
        (10, "bar", "max_value"),
    ]
    assert not Reading.objects.within(world.workshop).exists()


@pytest.mark.parametrize("body", [[], {}, {"readings": []}, {"readings": {}}, {"readings": None}, {"rows": []}])
def test_a_request_without_rows_is_refused(device: Device, body: Any) -> None:
    problem(device.post(BULK, body), 400, "rows", "readings")


def test_a_thousand_and_one_rows_are_refused_and_a_thousand_are_taken(world: World, device: Device) -> None:
    bar = world.bar(world.batch(cut_days_ago=30))
    sent = [
        reading(bar, f"{120 - number / 100:.2f}", bar.batch.cut_at + timedelta(minutes=30 * number)) for number in range(1001)
    ]
    problem(device.post(BULK, {"readings": sent}), 400, "rows", "readings")
    assert device.post(BULK, {"readings": sent[:1000]}).json()["written"] == 1000


def test_a_weight_that_came_with_the_others_counts_for_the_later_ones(world: World, device: Device) -> None:
    batch = world.batch()
    sent = rows_of(world, batch)
    sent[3]["weight_g"] = "1155"
    # Sent in no particular order: what counts is when a bar stood on the scale.
    random.Random(5).shuffle(sent)
    rows = {row["client_id"]: row for row in device.post(BULK, {"readings": sent}).json()["readings"]}
    doubts = [row["doubt"] for row in rows.values() if row["doubt"]]
    assert [(doubt["kind"], doubt["guess_g"]) for doubt in doubts] == [("decimal_slip", "115.500")]


def _faulty(world: World, chance: random.Random) -> list[WeighingRow]:
    """Return the weighings of three batches on one rack, some with a fault, in no particular order."""
    position = world.position(world.rack(f"Rack {chance.random()}", capacity=200))
    rows = []
    for place in range(3):
        batch = world.batch(cut_days_ago=40, position=position)
        for letter in "ABC":
            bar = world.bar(batch, letter)
            for week in range(5):
                weight = (118 + 9 * place) * (0.88 + 0.12 * 0.65**week) + chance.gauss(0, 0.1)
                weight = weight * chance.choice([1] * 12 + [10, 0.93, 1.06, 1.2]) + (84 if chance.random() < 0.05 else 0)
                # One whole round stood on a paper nobody took off.
                weight += 6.2 if (place, week) == (1, 3) else 0
                moment = batch.cut_at + timedelta(days=7 * week, minutes=chance.randrange(300))
                rows.append(
                    WeighingRow(bar.pk, world.scale.pk, world.reading_entry(f"{weight:.1f}", moment=moment, scale=None))
                )
    chance.shuffle(rows)
    return rows


@pytest.mark.parametrize("seed", range(6))
def test_weighings_sent_together_are_asked_about_as_if_sent_one_by_one(world: World, seed: int) -> None:
    chance = random.Random(seed)
    add_tare(scale=world.scale, name="tray", weight_g=Decimal("84.0"))
    rows = _faulty(world, chance)
    # A few are on record already, as they would be after an earlier round.
    earlier, now = rows[:5], rows[5:]
    bars = {bar.pk: bar for bar in SampleBar.objects.within(world.workshop).select_related("batch__formula")}

    def one_by_one(part: list[WeighingRow]) -> None:
        for row in sorted(part, key=lambda row: row.entry.moment):
            entry = world.reading_entry(row.entry.typed, moment=row.entry.moment)
            weigh(actor=world.actor, bar=bars[row.bar_id], entry=entry, at=world.now)

    class Undo(Exception):
        pass

    def kept(write: Any) -> list[tuple[Any, ...]]:
        with pytest.raises(Undo), transaction.atomic():
            one_by_one(earlier)
            write()
            kept.rows = stored(world)
            raise Undo
        return kept.rows

    separate = kept(lambda: one_by_one(now))
    together = kept(lambda: weigh_many(actor=world.actor, rows=now, at=world.now))
    assert together == separate
    assert sum(bool(row[3]) for row in separate) >= 3
    assert "tare" in {row[3] for row in separate}


def test_the_first_weights_and_those_after_a_kept_fault_are_asked_about_alike_in_bulk(world: World) -> None:
    batches = [world.batch(cut_days_ago=40) for _ in range(2)]
    for batch in batches:
        world.weigh_series(batch, {7: "115.5", 14: "113.2"}, letters="AB")
        wrong = world.weigh(world.bar(batch), "135.0", moment=batch.cut_at + timedelta(days=21))
        assert wrong.doubt
        keep(actor=world.actor, reading=wrong, at=world.now)
    fresh = world.batch(cut_days_ago=40)
    answers = []
    for batch, together in zip(batches, (True, False), strict=True):
        sent = [("A", 28, "134.2"), ("B", 28, "111.0"), ("C", 28, "1108"), ("A", 35, "110.2"), ("B", 35, "110.1")]
        rows = [
            (world.bar(batch, letter), world.reading_entry(weight, moment=batch.cut_at + timedelta(days=day, minutes=at)))
            for at, (letter, day, weight) in enumerate(sent)
        ]
        if together:
            entries = [WeighingRow(bar.pk, world.scale.pk, entry) for bar, entry in rows]
            written = [row for row, _new in weigh_many(actor=world.actor, rows=entries, at=world.now)]
        else:
            written = [weigh(actor=world.actor, bar=bar, entry=entry, at=world.now)[0] for bar, entry in rows]
        answers.append([(row.doubt, row.doubt_guess_g, row.doubt_detail) for row in written])
    assert answers[0] == answers[1]
    assert [kind for kind, _guess, _detail in answers[0]] == ["too_heavy", "", "decimal_slip", "", ""]
    first = WeighingRow(
        world.bar(fresh).pk, world.scale.pk, world.reading_entry("1180", moment=fresh.cut_at + timedelta(hours=1))
    )
    assert weigh_many(actor=world.actor, rows=[first], at=world.now)[0][0].doubt == "decimal_slip"


def test_queries_do_not_grow_with_the_rows(world: World, device: Device) -> None:
    batch = world.batch()
    few, many = rows_of(world, batch, weeks=1), rows_of(world, batch, weeks=5)
    assert device.get("scales/").status_code == 200  # the token's last use is noted now, and not again for a while
    counts = []
    for sent in (few, many):
        with CaptureQueriesContext(connection) as caught:
            assert device.post(BULK, {"readings": sent}).status_code == 201
        counts.append(len(caught))
    assert counts[0] == counts[1]


PLAIN = {
    "client_id": "0b0e7b4e-52b4-4a36-9a3e-0b8f6a6f0a11",
    "bar": 7,
    "moment": "2026-03-01T10:00:00+01:00",
    "weight_g": "118.6",
    "scale": 3,
}
VARIATIONS: list[dict[str, Any]] = [
    {},
    {"scale": None},
    {"moment": "2026-03-01T10:00:00Z"},
    {"moment": "2026-03-01T10:00:00.123456-05:30"},
    {"weight_g": "118"},
    {"weight_g": "0.001"},
    {"weight_g": "999999.999"},
    {"bar": 2**63 - 1},
]
NOT_PLAIN: list[dict[str, Any]] = [
    {"weight_g": "1e2"},
    {"weight_g": 118.6},
    {"weight_g": " 118.6"},
    {"weight_g": "118.6\n"},
    {"weight_g": "\u0661"},
    {"bar": True},
    {"bar": "7"},
    {"bar": 0},
    {"bar": 2**63},
    {"scale": -1},
    {"scale": 0},
    {"moment": "2026-03-01T10:00:00"},
    {"moment": "2026-13-01T10:00:00Z"},
    {"moment": "1969-03-01T10:00:00Z"},
    {"moment": "2026-03-01T10:00:00+99:00"},
    {"client_id": "0B0E7B4E52B44A369A3E0B8F6A6F0A11"},
    {"firmness": "dents"},
    {"moment": None},
]


@pytest.mark.parametrize("changes", VARIATIONS)
def test_a_plain_row_is_read_as_the_serializer_reads_it(changes: dict[str, Any]) -> None:
    sent = PLAIN | changes
    values = ReadingIn().run_validation(sent)
    assert plain_row(sent) == WeighingRow(values["bar"], values["scale"], entry_of(values, None))


@pytest.mark.parametrize("changes", NOT_PLAIN)
def test_a_row_that_is_not_plain_is_left_to_the_serializer(changes: dict[str, Any]) -> None:
    assert plain_row(PLAIN | changes) is None
