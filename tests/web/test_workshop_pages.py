"""What a workshop chooses for itself: preferences, ready rule, safety check, mail."""

from datetime import time
from decimal import Decimal

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import Cure
from curehouse.notices.channels.mailbox import mailbox_file
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import change_preferences
from tests.web.on_round import set_clock
from tests.web.reading_pages import send, words_of
from tests.world import World

PREFERENCES = {
    "workshop_name": "Fennel Yard Soapworks",
    "unit": "g",
    "time_zone": "Europe/Berlin",
    "currency": "EUR",
    "currency_other": "",
    "round_days": ["1"],
    "turn_every_days": "7",
    "turn_for_days": "28",
    "morning_at": "06:30",
}
RULE = {"min_days": "28", "weekly_loss_limit_pct": "0.75", "latest_day": "56", "water_left_limit_pct": ""}


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


def fresh(world: World) -> Workshop:
    return Workshop.objects.get(pk=world.workshop.pk)


def test_the_workshop_page_says_what_is_chosen_now(maker: Client) -> None:
    words = words_of(maker.get(reverse("web:workshop")))
    for sentence in (
        "Grams, EUR, clock of Europe/Berlin; round on Tuesday, morning at 06:30.",
        "Dry enough from day 28 at 0.75 % a week or less; too soft if not by day 56.",
        "No limit of your own written down yet: without it no batch can pass.",
        "1 scale in use.",
        "None has a token.",
        "No mail is set up, so notices stand on Today and nowhere else.",
        "manage.py mail_setup",
        "Ottilie Brandt, ottilie@fennelyard.example, owner here.",
    ):
        assert sentence in words


def test_the_workshop_page_says_that_mail_is_set_up(maker: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    mailbox_file().write_text("{}", encoding="utf-8")
    try:
        words = words_of(maker.get(reverse("web:workshop")))
    finally:
        mailbox_file().unlink()
    assert "Mail is set up: ready, check-due, check-failed and too-soft notices go out by e-mail at once" in words
    assert "mail_setup" not in words


def test_preferences_show_what_they_are_and_are_kept(maker: Client, world: World) -> None:
    change_preferences(workshop=world.workshop, changes={"currency": "SGD"})
    page = maker.get(reverse("web:preferences")).content.decode()
    assert '<option value="Europe/Berlin" selected>' in page
    assert '<option value="other" selected>' in page
    assert 'value="SGD"' in page
    changes = {"workshop_name": "Fennel Yard", "unit": "oz", "currency": "GBP", "morning_at": "07:15", "round_days": ["0", "3"]}
    assert send(maker, "preferences", **{**PREFERENCES, **changes}).url == reverse("web:workshop")
    row = fresh(world)
    assert (row.name, row.unit, row.currency) == ("Fennel Yard", "oz", "GBP")
    assert (row.morning_at, row.round_days) == (time(7, 15), [0, 3])
    assert "round on Monday and Thursday, morning at 07:15." in words_of(maker.get(reverse("web:workshop")))


def test_other_round_days_move_the_days_batches_are_due_on(maker: Client, world: World) -> None:
    batch = world.batch(cut_days_ago=14)
    world.weigh(world.bar(batch), "120.0", moment=world.days_ago(7))
    due = Cure.objects.within(world.workshop).filter(batch=batch).values_list("due_on", flat=True)
    # Weighed on Tuesday 3 March: Tuesdays at least five days on, then Saturdays.
    assert str(due.get()) == "2026-03-10"
    send(maker, "preferences", **{**PREFERENCES, "round_days": ["5"]})
    assert str(due.get()) == "2026-03-14"


def test_another_time_zone_moves_the_day_a_late_cut_falls_on(maker: Client, world: World) -> None:
    # 23:30 UTC is the next day in Berlin and the same day in New York.
    batch = world.batch(cut_days_ago=13 + 9.5 / 24)
    due = Cure.objects.within(world.workshop).filter(batch=batch).values_list("due_on", flat=True)
    assert str(due.get()) == "2026-02-25"
    send(maker, "preferences", **{**PREFERENCES, "time_zone": "America/New_York"})
    assert str(due.get()) == "2026-02-24"


def test_the_ready_rule_is_kept_with_comma_or_point(maker: Client, world: World) -> None:
    rule = {"min_days": "35", "weekly_loss_limit_pct": "0,5", "latest_day": "70", "water_left_limit_pct": "12.5"}
    assert send(maker, "ready_rule", **rule).url == reverse("web:workshop")
    row = fresh(world)
    assert (row.min_days, row.weekly_loss_limit_pct, row.latest_day) == (35, Decimal("0.5"), 70)
    assert row.water_left_limit_pct == Decimal("12.5")
    words = words_of(maker.get(reverse("web:workshop")))
    assert "from day 35 at 0.5 % a week or less, with at most 12.5 % of the water left; too soft if not by day 70." in words
    send(maker, "ready_rule", **RULE)
    assert fresh(world).water_left_limit_pct is None


@pytest.mark.parametrize(
    ("page", "changes", "remedy"),
    [
        ("preferences", {"workshop_name": ""}, "The workshop's name is missing: type a name."),
        ("preferences", {"time_zone": "Europe/Nowhere"}, "The time zone is not known: choose one from the list."),
        ("preferences", {"round_days": []}, "The round is missing: choose at least one weekday."),
        ("preferences", {"currency": "other"}, "The other currency's code is missing: type three letters, such as SGD."),
        ("preferences", {"morning_at": "half six"}, "The morning is not a time: type hours and minutes, like 06:30."),
        ("preferences", {"morning_at": ""}, "The morning is missing: type a time, like 06:30."),
        ("ready_rule", {"min_days": ""}, "The minimum age is missing: type a whole number."),
        ("ready_rule", {"min_days": "27.5"}, "The minimum age is a whole number from 1 to 729: check the figure."),
        ("ready_rule", {"min_days": "a month"}, "The minimum age is a whole number from 1 to 729"),
        ("ready_rule", {"min_days": "60"}, "The latest day must come after the minimum days, and within two years."),
        ("ready_rule", {"latest_day": "99999"}, "The latest day is a whole number from 2 to 730: check the figure."),
        ("ready_rule", {"weekly_loss_limit_pct": "0"}, "The weekly loss lies above 0 and goes up to 10: check the figure."),
        ("ready_rule", {"weekly_loss_limit_pct": "0.0004"}, "The weekly loss must be more than 0 and at most 10 %."),
        ("ready_rule", {"weekly_loss_limit_pct": "75"}, "The weekly loss lies above 0 and goes up to 10: check the figure."),
        ("ready_rule", {"weekly_loss_limit_pct": "1,000.5"}, "The weekly loss reads “1,000.5”: type figures"),
        ("ready_rule", {"water_left_limit_pct": "100"}, "The water left lies above 0 and goes up to 99.99: check the figure."),
        ("check_rule", {"check_method": "m" * 121}, "The method is too long: keep it to 120 characters."),
        ("check_rule", {"check_limit": "l" * 201}, "The limit is too long: keep it to 200 characters."),
    ],
)
def test_a_wrong_choice_is_answered_with_its_remedy_kept_as_typed_and_not_taken(
    maker: Client, world: World, page: str, changes: dict[str, object], remedy: str
) -> None:
    sent = {"preferences": PREFERENCES, "ready_rule": RULE, "check_rule": {"check_method": "", "check_limit": ""}}[page]
    before = Workshop.objects.values().get(pk=world.workshop.pk)
    answer = send(maker, page, **{**sent, **changes})
    assert answer.status_code == 200
    assert remedy in words_of(answer)
    assert Workshop.objects.values().get(pk=world.workshop.pk) == before
    for typed in changes.values():
        # A list keeps to what it offers; everything else comes back as it was typed.
        assert isinstance(typed, list) or typed == "Europe/Nowhere" or typed in answer.content.decode()


def test_the_safety_check_ships_no_limit_and_says_who_decides(maker: Client, world: World) -> None:
    words = words_of(maker.get(reverse("web:check_rule")))
    assert fresh(world).check_limit == ""
    assert "Good soap is alkaline by nature, so neutral is not the aim (common practice)." in words
    assert "Local law and a qualified assessor decide" in words
    assert "Never vinegar or another acid." in words
    limit = "pH 10.0 or less on a wetted bar"
    assert send(maker, "check_rule", check_method="pH strip", check_limit=limit).url == reverse("web:workshop")
    assert (fresh(world).check_method, fresh(world).check_limit) == ("pH strip", limit)
    assert limit in words_of(maker.get(reverse("web:workshop")))


def test_a_form_that_lost_its_key_says_how_to_send_it_again(maker: Client) -> None:
    answer: HttpResponse = maker.post(reverse("web:ready_rule"), RULE)
    assert "This form is incomplete: load the page again and send it anew." in words_of(answer)


@pytest.mark.parametrize("page", ["workshop", "preferences", "ready_rule", "check_rule", "scales", "devices"])
def test_the_workshop_s_pages_are_for_its_members(client: Client, world: World, page: str) -> None:
    assert client.get(reverse(f"web:{page}")).url.startswith(reverse("web:sign_in"))
