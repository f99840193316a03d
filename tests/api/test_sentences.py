"""Every field of every request refuses in our words, which say what to send instead."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.core import validators
from rest_framework import fields, serializers
from rest_framework.validators import ProhibitSurrogateCharactersValidator

from api import urls
from api.errors import problem_response
from api.fields import ChoiceField, Worded
from api.views import Body
from tests.api.device import Device, problem
from tests.api.test_problems import ADDRESSES, PATHS
from tests.world import World

CLIENT_ID = "3f2b8c1e-9d4a-4c7e-8f51-0a6b7c2d9e10"
_NOTHING = object()
WRONG: list[Any] = [
    _NOTHING,
    None,
    True,
    "",
    " ",
    "boo",
    "boo\0boo",
    "x" * 5000,
    "9" * 2000,
    -(10**40),
    -1,
    1.5,
    2**63,
    10**40,
    [],
    ["boo"],
    [None],
    [[]] * 30,
    {},
    {"boo": 1},
]


def _kinds(kind: type[Body] = Body) -> Iterator[type[Body]]:
    for one in kind.__subclasses__():
        yield one
        yield from _kinds(one)


KINDS = sorted({kind for kind in _kinds() if kind.__module__.startswith("api.")}, key=lambda kind: kind.__qualname__)
FIELDS = [(kind, name) for kind in KINDS for name in kind().fields]


def _stock() -> Iterator[str]:
    """Yield the sentences the frameworks bring along, as patterns."""
    holders = [*vars(fields).values(), serializers.Serializer, serializers.ListSerializer]
    for holder in holders:
        yield from map(str, vars(holder).get("default_error_messages", {}).values() if isinstance(holder, type) else ())
    yield from (str(one.message) for one in vars(validators).values() if isinstance(getattr(one, "message", None), str))
    yield str(validators.ProhibitNullCharactersValidator.message)
    yield str(ProhibitSurrogateCharactersValidator.message)


_PLACE = re.compile(r"\\\{\w+(?::\w+)?\\\}|%\\\(\w+\\\)[sd]|\\\{\w+:[^}]*\\\}")
STOCK = [re.compile(_PLACE.sub(".*", re.escape(sentence)), re.DOTALL) for sentence in _stock()]


def is_stock(sentence: str) -> bool:
    return any(pattern.fullmatch(sentence) for pattern in STOCK)


def refused(kind: type[Body], body: Any) -> list[dict[str, Any]]:
    """Return what the API answers to *body* read as *kind*, one fault each."""
    try:
        kind().run_validation(body)
    except serializers.ValidationError as error:
        answer = problem_response(error, {}).data
        return [*answer["errors"], {"detail": answer["detail"]}]
    return []


def test_the_kinds_and_the_stock_sentences_are_all_found() -> None:
    assert urls.urlpatterns
    assert len(KINDS) > 12
    assert len(FIELDS) > 50
    assert is_stock("This field is required.")
    assert is_stock('"boo" is not a valid choice.')
    assert is_stock("Ensure this value is less than or equal to 9223372036854775807.")
    assert is_stock('Expected a list of items but got type "dict".')
    assert is_stock("Null characters are not allowed.")
    assert not is_stock("Send a whole number.")


@pytest.mark.parametrize(("kind", "name"), FIELDS)
def test_a_wrong_value_is_refused_in_our_words_under_its_field(kind: type[Body], name: str) -> None:
    field = kind().fields[name]
    assert isinstance(field, Worded)
    faults = 0
    for value in WRONG:
        body = {} if value is _NOTHING else {name: value}
        for fault in refused(kind, body):
            assert not is_stock(fault["detail"]), (value, fault)
            assert "This field may" not in fault["detail"]
            if (fault.get("field") or "").split(".")[0] == name and value is not _NOTHING:
                faults += 1
                assert fault["detail"][0].isupper()
                assert fault["detail"].endswith(".")
    assert faults > 2
    if field.required:
        assert name in [fault.get("field") for fault in refused(kind, {})]
    if isinstance(field, ChoiceField):
        (said,) = [fault["detail"] for fault in refused(kind, {name: "boo"}) if fault.get("field") == name]
        assert all(re.search(rf"\b{re.escape(str(choice))}\b", said) for choice in field.choices)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("body", [7, "boo", [], None, True])
def test_a_body_that_is_no_object_is_refused_in_our_words(kind: type[Body], body: Any) -> None:
    fault, whole = refused(kind, body)
    assert fault["detail"] == whole["detail"]
    assert fault["detail"].startswith("Send an object")


def test_a_device_that_sends_null_is_told_to_send_an_object(device: Device) -> None:
    answer = device.client.post("/api/v1/readings/", "null", content_type="application/json")
    assert problem(answer, 400, "null")["detail"] == "Send an object instead of null."


def test_a_device_reads_what_to_send_instead(world: World, device: Device) -> None:
    bar = world.bar(world.batch(cut_days_ago=10))
    sent = {"client_id": "7", "moment": world.now.isoformat(), "weight_g": "118.6", "bar": bar.pk}
    body = problem(device.post("readings/", sent), 400, "invalid", "client_id")
    assert body["detail"] == "client_id: Send a UUID, such as 3f2b8c1e-9d4a-4c7e-8f51-0a6b7c2d9e10."
    sent["client_id"] = CLIENT_ID
    body = problem(device.post("readings/", sent | {"firmness": "boo"}), 400, "invalid_choice", "firmness")
    assert body["detail"] == "firmness: Send one of: dents, gives, firm."
    body = problem(device.post("readings/bulk/", {"readings": [sent | {"bar": 2**64}]}), 400)
    assert body["errors"][0]["detail"] == "This number is too large to be an id: send the id as the house gave it."


def test_several_faults_are_named_in_the_sentence(device: Device) -> None:
    body = problem(device.post("readings/", {"client_id": CLIENT_ID, "bar": "x", "weight_g": "y", "moment": 1}), 400, "invalid")
    assert body["detail"] == (
        "3 things in this request cannot be taken: moment: Send a moment as date, time and offset, such as"
        " 2026-03-10T09:00:00+01:00; weight_g: Send a plain number, such as 118.6 or “118.6”; bar: Send the id, a whole number."
    )
    body = problem(device.post("batches/", {"formula_name": None}), 400, "invalid")
    assert len(body["errors"]) == 4
    assert body["detail"] == (
        "4 things in this request cannot be taken: formula_name: Send a value here instead of null; poured_at: This field is"
        " missing: send it; fats_g: This field is missing: send it; and 1 more."
    )


LISTS = sorted(
    {
        (path, name)
        for path in PATHS
        if "<int:pk>" not in path and (chosen := getattr(ADDRESSES[path].callback.cls, "filterset_class", None))
        for name in chosen.base_filters
    }
)


@pytest.mark.parametrize(("path", "name"), LISTS)
def test_a_wrong_filter_is_refused_in_our_words(device: Device, path: str, name: str) -> None:
    refusals, client = 0, device.client_for(path)
    for value in ("boo", "0", "-1", "1.5", str(2**64), "\0", "2026-13-45"):
        answer = client.get(path, {name: value})
        if answer.status_code == 200:
            continue
        body = problem(answer, 400, field=name)
        refusals += 1
        sentence = body["errors"][0]["detail"]
        assert not re.match("Enter|Select|Ensure|Null|“", sentence), sentence
        assert sentence.endswith(".")
    assert refusals > 0


def test_a_filter_of_choices_names_them(device: Device) -> None:
    body = problem(device.get("readings/", standing="boo"), 400, "invalid_choice", "standing")
    assert body["detail"] == "standing: Send one of: counts, asked, corrected, struck."
