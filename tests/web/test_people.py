"""People come into a workshop by invitation, are something there, and go; what they wrote keeps their name."""

import re
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.common.errors import Forbidden
from curehouse.flows.join import join
from curehouse.notices.models import Delivery
from curehouse.notices.services import tell
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import AuditEntry, Invitation, Member, User, Workshop
from curehouse.workshops.roles import OF_ROLE, Right, Role
from curehouse.workshops.services import give_token
from curehouse.workshops.services.invitations import invite
from curehouse.workshops.services.people import change_role, remove_member
from tests.factories import PersonFactory
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db
NEW = {"name": "Wren Aldous", "email": "wren@fennelyard.example", "password": "lantern-orchard-spoon-7"}


@pytest.fixture
def wren(world: World) -> User:
    """Return a maker of the workshop."""
    return member_of(world, "wren@fennelyard.example", "maker").user


def member_of(world: World, email: str, role: str) -> Member:
    invitation, _secret = invite(actor=world.actor, role=role, email="", at=world.now)
    return join(invitation=invitation, person=PersonFactory(email=email, at=world.now), at=world.now)


def signed_in(person: User) -> Client:
    client = Client()
    client.force_login(person)
    return client


def place_of(world: World, person: User) -> Member:
    return Member.objects.within(world.workshop).get(user=person)


def send(client: Client, name: str, /, *args: int, **fields: Any) -> HttpResponse:
    return client.post(reverse(f"web:{name}", args=args), {"form_key": str(uuid.uuid4()), **fields})


def link_of(answer: HttpResponse) -> str:
    return re.search(r"http://testserver(/join/\?invitation=[\w-]+)", answer.content.decode())[1]


def made_link(world: World, **fields: Any) -> str:
    return link_of(Visitor(world).post("invite", **{"role": "maker", "email": "", **fields}))


def secret_of(link: str) -> str:
    return link.partition("=")[2]


def accept(client: Client, link: str, **fields: Any) -> HttpResponse:
    return client.post(reverse("web:join"), {"invitation": secret_of(link), **fields})


def test_an_invitation_says_what_each_role_may_and_chooses_none(world: World) -> None:
    visitor = Visitor(world)
    page = visitor.get("invite")
    assert set(dict(page.context["form"].fields["role"].choices)) == set(Role)
    assert "checked" not in page.content.decode()
    words = text_of(page)
    assert words.index("helper: weighs on the round") < words.index("owner: all a maker may")
    assert "sees no costs" in words
    refused = visitor.post("invite", role="", email="")
    assert "The role is missing: choose one." in text_of(refused)
    assert not Invitation.objects.within(world.workshop).exists()
    # What is said of costs is what is so.
    assert [role for role in Role if Right.SEE_COSTS not in OF_ROLE[role]] == [Role.HELPER]
    assert [role for role in Role if Right.WEIGH not in OF_ROLE[role]] == [Role.READER]


def test_somebody_new_is_invited_joins_and_is_at_work(world: World) -> None:
    link = made_link(world, role="helper", email="Wren@FennelYard.example")
    client = Client()
    page = client.get(link)
    assert "invites you as a helper" in text_of(page)
    assert 'value="wren@fennelyard.example"' in page.content.decode()
    assert accept(client, link, **NEW).url == reverse("web:today")
    assert world.workshop.name in text_of(client.get(reverse("web:today")))
    person = User.objects.get(email=NEW["email"])
    assert place_of(world, person).role == "helper"
    assert [entry.said for entry in AuditEntry.objects.within(world.workshop).newest_first()] == [
        "Joined the workshop: as helper",
        "Invited somebody: helper, Wren@FennelYard.example",
    ]


def test_looking_at_an_invitation_changes_nothing(world: World) -> None:
    link = made_link(world)
    for client in (Client(), Client(), signed_in(PersonFactory(email="finch@elsewhere.example", at=world.now))):
        assert client.get(link).status_code == 200
        assert client.head(link).status_code == 200
    assert Invitation.objects.within(world.workshop).get().accepted_at is None
    assert Member.objects.within(world.workshop).count() == 1


def test_the_secret_is_kept_nowhere_and_named_to_nobody(world: World, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("DEBUG")
    link = made_link(world)
    client = Client()
    page = client.get(link)
    assert page.headers["Referrer-Policy"] == "strict-origin"
    assert "no-store" in page.headers["Cache-Control"]
    accept(client, link, **NEW)
    assert Client().get(link).status_code == 410
    kept = str(list(Invitation.unscoped.values())) + str(list(AuditEntry.unscoped.values())) + caplog.text
    assert secret_of(link) not in kept


def test_a_person_who_is_signed_in_joins_with_one_press(world: World, stranger: World) -> None:
    link, client = made_link(world), signed_in(stranger.owner)
    assert "Join as" in text_of(client.get(link))
    assert accept(client, link).url == reverse("web:today")
    assert world.workshop.name in text_of(client.get(reverse("web:workshop")))


def test_a_member_is_told_so_and_the_link_stays_good(world: World) -> None:
    link, client = made_link(world), signed_in(world.owner)
    assert "You are in already" in text_of(client.get(link))
    answer = accept(client, link)
    assert answer.status_code == 409
    assert "already" in text_of(answer)
    assert accept(Client(), link, **NEW).status_code == 302


def withdrawn(world: World, _link: str) -> None:
    (row,) = Invitation.objects.within(world.workshop)
    assert Visitor(world).post("invitation_withdraw", row.pk).status_code == 302


def expired(world: World, _link: str) -> None:
    Invitation.objects.within(world.workshop).update(expires_at=world.now - timedelta(days=1))


def used(_world: World, link: str) -> None:
    assert accept(Client(), link, **NEW | {"email": "first@fennelyard.example"}).status_code == 302


@pytest.mark.parametrize(
    ("end", "words"), [(withdrawn, "was withdrawn"), (expired, "7 days, which are over"), (used, "was used already")]
)
def test_an_invitation_that_ended_says_how_and_lets_nobody_in(
    world: World, end: Callable[[World, str], None], words: str
) -> None:
    link = made_link(world)
    end(world, link)
    people = User.objects.count()
    for answer in (Client().get(link), accept(Client(), link, **NEW)):
        assert answer.status_code == 410
        assert words in text_of(answer)
        assert f"ask {world.owner.name} for another" in text_of(answer)
    assert User.objects.count() == people


@pytest.mark.parametrize(
    "query", ["", "?invitation=", "?invitation=no-such-secret", "?invitation=" + "x" * 5000, "?invitation=%00"]
)
def test_no_invitation_is_answered_404(world: World, query: str) -> None:
    assert Client().get(reverse("web:join") + query).status_code == 404


def test_an_expired_invitation_cannot_be_mended_by_its_moment(world: World) -> None:
    """The open ones are listed, the others are not."""
    made_link(world, email="open@fennelyard.example")
    visitor = Visitor(world)
    assert "open@fennelyard.example" in visitor.words("people")
    expired(world, "")
    assert "open@fennelyard.example" not in visitor.words("people")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"password": "short"}, "too short"),
        ({"password": "12345678901234"}, "entirely numeric"),
        ({"email": "ottilie@fennelyard.example"}, "is in use already"),
        ({"email": "wren"}, "does not look complete"),
        ({"name": ""}, "Your name is missing"),
    ],
)
def test_a_wrong_entry_is_answered_beside_its_field_and_uses_nothing_up(
    world: World, changes: dict[str, str], words: str
) -> None:
    link = made_link(world)
    assert words in text_of(accept(Client(), link, **NEW | changes))
    assert User.objects.count() == 1
    assert accept(Client(), link, **NEW).status_code == 302


def test_the_owner_changes_a_role_and_it_is_noted_with_before_and_after(world: World, wren: User) -> None:
    visitor = Visitor(world)
    assert visitor.post("member", place_of(world, wren).pk, role="reader").status_code == 302
    assert place_of(world, wren).role == "reader"
    assert AuditEntry.objects.within(world.workshop).newest_first()[0].said == (
        f"Changed what somebody is here: {wren.name}, from maker to reader"
    )


def test_the_last_owner_is_neither_lowered_nor_removed_and_cannot_leave(world: World, wren: User) -> None:
    visitor, place = Visitor(world), place_of(world, world.owner)
    answers = [
        visitor.post("member", place.pk, role="maker"),
        visitor.post("member_remove", place.pk),
        visitor.post("leave"),
    ]
    assert all("last owner" in text_of(answer) for answer in answers)
    assert place_of(world, world.owner).role == "owner"
    visitor.post("member", place_of(world, wren).pk, role="owner")
    assert visitor.post("leave").status_code == 302
    assert [row.user for row in Member.objects.within(world.workshop)] == [wren]


@pytest.mark.parametrize("role", ["maker", "helper", "reader"])
def test_who_is_no_owner_changes_nobody(world: World, role: str) -> None:
    person = member_of(world, "wren@fennelyard.example", role).user
    client, owner = signed_in(person), place_of(world, world.owner)
    (invitation, _secret) = invite(actor=world.actor, role="maker", email="", at=world.now)
    mine = place_of(world, person)
    answers = [
        client.get(reverse("web:people")),
        client.get(reverse("web:list_people_csv")),
        send(client, "member", mine.pk, role="owner"),
        send(client, "member_remove", owner.pk),
        send(client, "invite", role="owner", email=""),
        send(client, "invitation_withdraw", invitation.pk),
    ]
    assert {answer.status_code for answer in answers} == {403}
    assert place_of(world, person).role == role
    invitation.refresh_from_db()
    assert invitation.withdrawn_at is None


def test_removal_ends_what_they_reach_at_once_and_keeps_what_they_wrote(world: World, wren: User) -> None:
    batch = world.batch(position=world.position(world.rack()))
    actor = Actor(workshop=world.workshop, user=wren)
    world.actor, owner = actor, world.actor
    reading = world.weigh(world.bar(batch), "120.0", moment=world.now - timedelta(hours=1))
    world.actor = owner
    client = signed_in(wren)
    assert client.get(reverse("web:today")).status_code == 200
    Visitor(world).post("member_remove", place_of(world, wren).pk)
    assert client.get(reverse("web:today")).status_code == 403
    assert client.get("/api/v1/batches/").status_code == 403
    assert send(client, "scales", name="Mine", step_g="1").status_code == 403
    reading.refresh_from_db()
    assert reading.signed_by == wren.name
    assert wren.name in Visitor(world).words("people")


def test_the_devices_of_somebody_who_left_stop_and_stay_out_when_they_are_back(world: World, wren: User) -> None:
    _token, secret = give_token(
        actor=Actor(workshop=world.workshop, user=wren), name="Rack tablet", reach="works", at=world.now
    )
    _ours, kept = give_token(actor=world.actor, name="Bench tablet", reach="works", at=world.now)

    def answers() -> list[int]:
        clients = [Client(headers={"Authorization": f"Bearer {one}"}) for one in (secret, kept)]
        return [client.get("/api/v1/batches/").status_code for client in clients]

    assert answers() == [200, 200]
    Visitor(world).post("member_remove", place_of(world, wren).pk)
    assert answers() == [401, 200]
    assert accept(signed_in(wren), made_link(world)).status_code == 302
    assert answers() == [401, 200]
    assert "shut out" in Visitor(world).words("devices")


def test_whoever_left_gives_no_token_any_more(world: World, wren: User) -> None:
    remove_member(actor=world.actor, member=place_of(world, wren), at=world.now)
    gone = Actor(workshop=world.workshop, user=wren)
    with pytest.raises(Forbidden, match="do not work"):
        give_token(actor=gone, name="Rack tablet", reach="works", at=world.now)


def test_who_may_not_is_told_the_same_at_the_page_by_the_api_and_by_the_verb(world: World, wren: User) -> None:
    said = f"This is for the owner of {world.workshop}, and you are a maker here: ask {world.owner.name}."
    client, actor = signed_in(wren), Actor(workshop=world.workshop, user=wren)
    page, resource = client.get(reverse("web:people")), client.get("/api/v1/deeds/")
    assert (page.status_code, resource.status_code, resource.json()["detail"]) == (403, 403, said)
    assert said in text_of(page)
    verbs = [
        lambda: invite(actor=actor, role="owner", email="", at=world.now),
        lambda: change_role(actor=actor, member=place_of(world, wren), role="owner", at=world.now),
        lambda: remove_member(actor=actor, member=place_of(world, world.owner), at=world.now),
    ]
    for verb in verbs:
        with pytest.raises(Forbidden) as refused:
            verb()
        assert (refused.value.code, refused.value.message) == ("role", said)
    remove_member(actor=world.actor, member=place_of(world, wren), at=world.now)
    with pytest.raises(Forbidden, match=f"You do not work in {world.workshop} any more"):
        verbs[0]()


@pytest.mark.parametrize("end", ["removed", "lowered"])
def test_the_invitations_of_an_owner_who_is_none_any_more_let_nobody_in(world: World, wren: User, end: str) -> None:
    place = change_role(actor=world.actor, member=place_of(world, wren), role="owner", at=world.now)
    _invitation, secret = invite(actor=Actor(workshop=world.workshop, user=wren), role="owner", email="", at=world.now)
    if end == "removed":
        remove_member(actor=world.actor, member=place, at=world.now)
    else:
        change_role(actor=world.actor, member=place, role="helper", at=world.now)
    answer = Client().post(
        reverse("web:join"),
        {"invitation": secret, "name": "Wren again", "email": "again@wren.example", "password": "tin bucket harvest 9"},
    )
    assert answer.status_code == 410
    assert not User.objects.filter(email="again@wren.example").exists()
    assert "None is open" in Visitor(world).words("people")
    # And it stays so if they are owner again.
    if end == "lowered":
        change_role(actor=world.actor, member=place, role="owner", at=world.now)
        assert signed_in(wren).get(reverse("web:join"), {"invitation": secret}).status_code == 410


def test_somebody_who_left_is_told_nothing_more_until_they_are_back(world: World, wren: User) -> None:
    def told(key: str) -> set[User]:
        tell(
            workshop=world.workshop, key=key, kind="ready", about=key, mark="ready", title="Ready", body="It is.",
            path="/", at=world.now,
        )  # fmt: skip
        return {one.user for one in Delivery.objects.within(world.workshop).filter(notice__key=key)}

    assert told("one") == {world.owner, wren}
    remove_member(actor=world.actor, member=place_of(world, wren), at=world.now)
    assert told("two") == {world.owner}
    assert accept(signed_in(wren), made_link(world, role="reader")).status_code == 302
    assert told("three") == {world.owner, wren}
    assert [row.role for row in Member.objects.ever_within(world.workshop).filter(user=wren).order_by("pk")] == [
        "maker",
        "reader",
    ]


def test_whoever_leaves_one_workshop_is_at_work_in_their_other(world: World, stranger: World) -> None:
    client = signed_in(stranger.owner)
    accept(client, made_link(world))
    assert send(client, "leave").status_code == 302
    page = client.get(reverse("web:workshop"))
    assert (page.status_code, page.context["workshop"]) == (200, stranger.workshop)


def test_a_person_goes_between_their_workshops_and_the_session_remembers(world: World, stranger: World) -> None:
    client = signed_in(stranger.owner)
    assert "Work elsewhere" not in text_of(client.get(reverse("web:workshop")))
    accept(client, made_link(world))
    assert "Work elsewhere" in text_of(client.get(reverse("web:workshop")))
    for workshop in (stranger.workshop, world.workshop):
        assert client.post(reverse("web:workshops"), {"workshop": workshop.pk}).status_code == 302
        assert client.get(reverse("web:workshop")).context["workshop"] == workshop


@pytest.mark.parametrize("wanted", ["", "x", "99999999999999999999", "theirs"])
def test_nobody_goes_to_work_where_they_are_no_member(world: World, stranger: World, wanted: str) -> None:
    client = signed_in(world.owner)
    sent = str(stranger.workshop.pk) if wanted == "theirs" else wanted
    answer = client.post(reverse("web:workshops"), {"workshop": sent})
    assert "choose one from the list" in text_of(answer)
    assert client.get(reverse("web:workshop")).context["workshop"] == world.workshop


def test_a_session_that_chose_a_workshop_it_may_not_enter_works_in_ones_own(world: World, stranger: World) -> None:
    client = signed_in(world.owner)
    session = client.session
    session["workshop"] = stranger.workshop.pk
    session.save()
    assert client.get(reverse("web:workshop")).context["workshop"] == world.workshop


def test_the_house_has_one_workshop_still(world: World) -> None:
    """The last owner's role cannot be given away by a role that nobody knows."""
    place = place_of(world, world.owner)
    assert Visitor(world).post("member", place.pk, role="king").status_code == 200
    assert change_role(actor=world.actor, member=place, role="owner", at=world.now).role == "owner"
    assert Workshop.objects.count() == 1


def test_who_signed_in_with_the_password_of_the_invitation_signs_in_again(world: World) -> None:
    accept(Client(), made_link(world), **NEW)
    answer = Client().post(reverse("web:sign_in"), {"email": NEW["email"], "password": NEW["password"]})
    assert answer.status_code == 302
    assert NEW["password"] != PASSWORD
