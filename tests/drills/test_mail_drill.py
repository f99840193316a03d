"""What a running house mails, through servers that are down and workers that are killed.

Both transports live through the same story, side by side (tests/drills/mail_story.py).
"""

from concurrent.futures import Future, ThreadPoolExecutor

import pytest
import redis

from tests.drills.mail_story import KILL_HOUSE_AFTER, KILL_WORKER_AFTER, MANY, MailStory
from tests.present import REDIS_URL, missing


@pytest.fixture(scope="module")
def lives(tmp_path_factory: pytest.TempPathFactory):
    """Let both houses live at once; each test asks for the one it judges."""
    folder = tmp_path_factory.mktemp("lives")
    stories = {"embedded": MailStory(folder / "embedded", {})}
    if missing("redis") is None:
        redis.Redis.from_url(REDIS_URL).flushdb()
        stories["redis"] = MailStory(folder / "redis", {"REDIS_URL": REDIS_URL})
    with ThreadPoolExecutor() as pool:
        ends: dict[str, Future[None]] = {name: pool.submit(story.live) for name, story in stories.items()}
    yield stories, ends
    if "redis" in stories:
        redis.Redis.from_url(REDIS_URL).flushdb()


@pytest.fixture(params=["embedded", pytest.param("redis", marks=pytest.mark.needs("redis"))])
def story(request: pytest.FixtureRequest, lives) -> MailStory:
    stories, ends = lives
    ends[request.param].result()
    return stories[request.param]


def test_notice_ends_visibly_without_mail_and_goes_out_once_mail_is_set_up(story: MailStory) -> None:
    assert "Mail is set up." in story.set_up_says
    assert len(story.arrivals("Curehouse can send you mail")) == 1
    assert story.ended["Fresh"][0] == "sent"
    assert len(story.arrivals("Fresh")) == 1


def test_mail_set_up_later_sends_nothing_older_than_a_day(story: MailStory) -> None:
    assert story.ended["Old"][0] == "no_mail"
    assert story.arrivals("Old") == []


def test_weighing_that_makes_a_batch_dry_enough_is_mailed_within_a_minute(story: MailStory) -> None:
    (mail,) = story.arrivals(f"{story.cured} is dry enough: check due")
    assert mail.recipients == ["ottilie@fennelyard.example"]
    assert "/batches/1" in mail.text or "/batches/2" in mail.text


def test_notice_is_sent_after_all_when_the_mail_server_was_down(story: MailStory) -> None:
    both = [story.while_down[title] for title in ("Waits", "Withdrawn")]
    # Told at the same moment, one of them was tried and the other put back with it.
    assert {(state, why.partition(",")[0]) for state, _, why in both} == {("waiting", "Nothing answers at 127.0.0.1")}
    assert sum(attempts for _, attempts, _ in both) == 1
    assert story.ended["Waits"][:2] == ("sent", story.while_down["Waits"][1] + 1)
    assert len(story.arrivals("Waits")) == 1


def test_notice_withdrawn_before_it_went_out_is_not_sent(story: MailStory) -> None:
    assert story.ended["Withdrawn"] == ("withdrawn", story.while_down["Withdrawn"][1], "Changed meanwhile.")
    assert story.arrivals("Withdrawn") == []


def test_mail_cut_off_between_send_and_mark_goes_once_more_under_the_same_id(story: MailStory) -> None:
    assert story.ended["Cut off"][:2] == ("twice", 2)
    first, second = story.arrivals("Cut off")
    assert first.ident == second.ident


def test_worker_and_house_killed_among_many_send_each_once_or_say_perhaps_twice(story: MailStory) -> None:
    at_worker, at_house = story.many_at_kills
    assert KILL_WORKER_AFTER <= at_worker <= KILL_HOUSE_AFTER <= at_house < MANY
    arrived = story.arrivals_by_title()
    titles = [f"Many {number}" for number in range(MANY)]
    assert {story.ended[title][0] for title in titles} <= {"sent", "twice"}
    for title in titles:
        assert arrived[title] == 1 or (arrived[title] == 2 and story.ended[title][0] == "twice"), title
    idents = {mail.ident for title in titles for mail in story.arrivals(title)}
    assert len(idents) == MANY


def test_morning_comes_once_and_mails_what_is_open(story: MailStory) -> None:
    digests = [title for title in story.arrivals_by_title().elements() if "to see to" in title]
    assert len(digests) == 1
    (digest,) = story.arrivals(digests[0])
    assert digest.recipients == ["ida@thistlewick.example"]
    assert digest.subject.startswith("Thistlewick Soapery, ")
    assert "• Weigh Goat & oat" in digest.text
    assert story.digest_seen_at >= story.morning_at


def test_logs_name_rows_and_no_addresses(story: MailStory) -> None:
    assert "delivery: workshop=1 " in story.logs
    assert "@fennelyard.example" not in story.logs
    assert "@thistlewick.example" not in story.logs


def test_nothing_broke_on_the_way(story: MailStory) -> None:
    assert "Traceback" not in story.logs
