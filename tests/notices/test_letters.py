from collections.abc import Callable

from curehouse.notices.letters import one_line, write_letter
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import tell_morning
from tests.world import World

Say = Callable[..., Notice]
Find = Callable[[Notice], Delivery]


def test_letter_says_the_notice_and_leads_back_into_the_house(tell_ready: Say, delivery_of: Find) -> None:
    letter = write_letter(delivery_of(tell_ready()))
    assert letter.subject == "Goat & oat 12 is ready"
    assert letter.text == (
        "It lost 0.41 % in the last seven days. Take it out when you need the place.\n\n"
        "http://house.example:8000/batches/12/\n\n"
        "-- \nCurehouse, for Fennel Yard Soapworks. The same stands on Today until it is seen to.\n"
    )


def test_letter_writes_a_tied_figure_with_a_plain_space(tell_ready: Say, delivery_of: Find) -> None:
    letter = write_letter(delivery_of(tell_ready(body="Losing 0.41\u00a0% a week.", title="Day\u00a029")))
    assert "\nLosing 0.41 % a week.\n" in f"\n{letter.text}"
    assert letter.subject == "Day 29"


def test_letter_says_where_to_look_when_the_house_does_not_know_its_address(
    world: World, tell_ready: Say, delivery_of: Find, settings
) -> None:
    settings.PUBLIC_URL = ""
    text = write_letter(delivery_of(tell_ready())).text
    assert "place.\n\nOpen Curehouse where you always do: it stands on Today.\n\n--" in text
    assert "/batches/" not in text
    digest = tell_morning(workshop=world.workshop, day=world.now.date(), at=world.now)
    assert digest.body == "• Goat & oat 12 is ready\n  It lost 0.41 % in the last seven days."


def test_name_with_line_breaks_adds_no_header(world: World, tell_ready: Say, delivery_of: Find) -> None:
    world.workshop.name = "Fennel\r\nBcc: all@example.org"
    world.workshop.save()
    letter = write_letter(delivery_of(tell_ready(title="Mint\r\nBcc: all@example.org\x07 12")))
    assert letter.sender_name == "Fennel Bcc: all@example.org"
    assert letter.subject == "Mint Bcc: all@example.org 12"
    assert one_line("a\u2028b\x85c\td") == "a b c d"


def test_letter_keeps_its_ident_and_differs_by_notice_reader_and_house(tell_ready: Say, delivery_of: Find, settings) -> None:
    delivery = delivery_of(tell_ready())
    ident = write_letter(delivery).ident
    assert write_letter(delivery).ident == ident
    assert write_letter(delivery_of(tell_ready(key="ready:batch:12:4"))).ident != ident
    settings.SECRET_KEY = "another house"
    assert write_letter(delivery).ident != ident
