"""The first run: one page, once, for whoever is at the house's own computer or holds its key."""

from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.common.setup_key import setup_key
from curehouse.notices.models import Subscription
from curehouse.workshops.models import Member, Scale, User, Workshop
from tests.web.reading_pages import words_of
from tests.world import PASSWORD, World

TYPED = {
    "name": "Ottilie Brandt",
    "email": "ottilie@fennelyard.example",
    "password": PASSWORD,
    "workshop_name": "Fennel Yard Soapworks",
    "unit": "g",
    "time_zone": "Europe/Berlin",
    "currency": "EUR",
    "currency_other": "",
    "round_days": ["1", "4"],
    "scale_name": "Kitchen scale",
    "step_g": "0,1",
}
pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    """A browser on the house's own computer."""
    return Client(SERVER_NAME="localhost")


def set_up(client: Client, *, query: str = "", **changes: object) -> HttpResponse:
    return client.post(reverse("web:set_up") + query, {**TYPED, **changes})


def nothing_was_written() -> bool:
    return not any(model.objects.exists() for model in (User, Workshop)) and not Scale.unscoped.exists()


def test_a_new_house_leads_everybody_to_its_set_up(client: Client) -> None:
    assert client.get("/").url == reverse("web:set_up")
    assert client.get(reverse("web:sign_in")).url == reverse("web:set_up")


def test_setting_up_opens_the_house_and_leads_its_owner_to_today(client: Client) -> None:
    assert set_up(client).url == reverse("web:today")
    workshop = Workshop.objects.get()
    assert (workshop.name, workshop.unit, workshop.time_zone) == ("Fennel Yard Soapworks", "g", "Europe/Berlin")
    assert (workshop.currency, workshop.round_days) == ("EUR", [1, 4])
    owner = Member.objects.within(workshop).get()
    assert (owner.user.name, owner.role) == ("Ottilie Brandt", "owner")
    scale = Scale.objects.within(workshop).get()
    assert (scale.name, scale.step_g) == ("Kitchen scale", Decimal("0.1"))
    assert Subscription.objects.within(workshop).get().user == owner.user
    assert client.get("/").status_code == 200
    client.logout()
    assert client.login(username=TYPED["email"], password=PASSWORD)


def test_the_scale_s_step_is_read_in_the_unit_chosen_in_the_same_form(client: Client) -> None:
    set_up(client, unit="oz", step_g="0.01")
    # One ounce is 28.349523125 g by definition (NIST Handbook 44, Appendix C), and a hundredth is kept whole.
    assert Scale.unscoped.get().step_g == Decimal("0.28349523125")


def test_a_currency_that_is_not_in_the_list_is_taken_by_its_code(client: Client) -> None:
    set_up(client, currency="other", currency_other="sgd")
    assert Workshop.objects.get().currency == "SGD"


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"name": "  "}, "Your name is missing: type a name."),
        ({"name": "O" * 121}, "Your name has 121 characters: keep it to 120."),
        ({"email": ""}, "The e-mail address is missing: type it."),
        ({"email": "ottilie@"}, "The e-mail address does not look complete: type it like ann@example.org."),
        ({"password": ""}, "The password is missing: type it."),
        ({"password": "short"}, "This password is too short. It must contain at least 10 characters."),
        ({"password": "ottilie@fennelyard.example"}, "too similar"),
        ({"workshop_name": ""}, "The workshop's name is missing: type a name."),
        ({"workshop_name": "Fennel\x07Yard"}, "The workshop's name holds characters that cannot be shown: type it again."),
        ({"unit": "stone"}, "Choose grams or ounces."),
        ({"time_zone": ""}, "The time zone is missing: choose the nearest place."),
        ({"time_zone": "Europe/Nowhere"}, "The time zone is not known: choose one from the list."),
        ({"currency": ""}, "The currency is missing: choose one."),
        ({"currency": "other"}, "The other currency's code is missing: type three letters, such as SGD."),
        ({"currency": "other", "currency_other": "12"}, "The currency is a code of three letters, such as EUR."),
        ({"round_days": []}, "The round is missing: choose at least one weekday."),
        ({"round_days": ["7"]}, "Choose weekdays from the list."),
        ({"scale_name": ""}, "The scale's name is missing: type a name."),
        ({"step_g": "a tenth"}, "The scale's step reads “a tenth”: type figures with one point or comma, like 118.6."),
        ({"step_g": "0"}, "The scale's step must be more than 0 g."),
        ({"step_g": "101"}, "The scale's step lies between 0.001 and 100 g, such as 0.1."),
    ],
)
def test_setting_up_answers_a_wrong_value_with_its_remedy_and_writes_nothing(
    client: Client, changes: dict[str, object], remedy: str
) -> None:
    answer = set_up(client, **changes)
    assert answer.status_code == 200
    assert remedy in words_of(answer)
    assert nothing_was_written()


def test_setting_up_keeps_what_was_typed_but_not_the_password(client: Client) -> None:
    page = set_up(client, workshop_name="").content.decode()
    for kept in ("Ottilie Brandt", "ottilie@fennelyard.example", "0,1"):
        assert f'value="{kept}"' in page
    assert '<option value="Europe/Berlin" selected>' in page
    assert PASSWORD not in page


def test_a_house_that_is_set_up_has_no_set_up_page_any_more(client: Client, world: World) -> None:
    assert client.get(reverse("web:set_up")).url == reverse("web:sign_in")
    assert set_up(client, email="wren@thistlewick.example").url == reverse("web:sign_in")
    assert set_up(client, query=f"?key={setup_key()}").url == reverse("web:sign_in")
    assert (User.objects.count(), Workshop.objects.count()) == (1, 1)


def test_of_two_who_set_up_the_later_one_is_led_to_the_sign_in(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    # Both had seen the page before either sent it: the flow has the last word, not the page.
    monkeypatch.setattr("curehouse.web.views.setup.is_set_up", lambda: False)
    set_up(client)
    later = Client(SERVER_NAME="localhost")
    assert set_up(later, email="wren@thistlewick.example").url == reverse("web:sign_in")
    assert User.objects.get().email == TYPED["email"]
    assert "_auth_user_id" not in later.session


def test_what_a_proxy_passes_on_without_a_word_needs_the_key_too(settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["soap.example"]
    passed_on = Client(SERVER_NAME="soap.example")
    assert set_up(passed_on).status_code == 403
    assert nothing_was_written()
    assert set_up(passed_on, query=f"?key={setup_key()}").url == reverse("web:today")


def test_another_computer_needs_the_key_of_the_house() -> None:
    far = Client(REMOTE_ADDR="192.0.2.7")
    answer = far.get(reverse("web:set_up"))
    assert answer.status_code == 403
    assert "manage.py start printed" in words_of(answer)
    assert "This is not the key of this house" not in words_of(answer)
    assert set_up(far).status_code == 403
    assert nothing_was_written()


@pytest.mark.parametrize("wrong", ["", "aaaaaaaaaaaa", "schlüssel", "a" * 4000])
def test_a_wrong_key_is_refused_with_where_to_find_it(wrong: str) -> None:
    far = Client(REMOTE_ADDR="192.0.2.7")
    answer = far.get(reverse("web:set_up"), {"key": wrong})
    assert answer.status_code == 403
    assert "This is not the key of this house: copy it from where the house was started" in words_of(answer)


def test_another_computer_with_the_key_sets_the_house_up() -> None:
    far = Client(REMOTE_ADDR="192.0.2.7")
    assert far.get(reverse("web:set_up"), {"key": setup_key().upper()}).status_code == 200
    assert set_up(far, query=f"?key={setup_key()}").url == reverse("web:today")


@pytest.mark.parametrize("address", ["127.0.0.1", "127.0.0.2", "::1", "::ffff:127.0.0.1"])
def test_this_computer_needs_no_key(address: str) -> None:
    assert Client(REMOTE_ADDR=address, SERVER_NAME="localhost").get(reverse("web:set_up")).status_code == 200


@pytest.mark.parametrize(
    "seen",
    [
        {"REMOTE_ADDR": "127.0.0.1", "HTTP_X_FORWARDED_FOR": "192.0.2.7"},
        {"REMOTE_ADDR": "127.0.0.1", "HTTP_FORWARDED": "for=127.0.0.1"},
        {"REMOTE_ADDR": ""},
        {"REMOTE_ADDR": "::ffff:192.0.2.7"},
    ],
)
def test_who_may_come_from_elsewhere_needs_the_key(seen: dict[str, str]) -> None:
    assert Client(SERVER_NAME="localhost", **seen).get(reverse("web:set_up")).status_code == 403
