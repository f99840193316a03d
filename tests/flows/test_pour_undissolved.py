"""All of the lye is dissolved before it meets the fats: by a look that is later than all lye that went into the jug."""

from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict
from curehouse.making.models import Pour
from tests.pouring import Bench
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


def dissolved(bench: Bench) -> Pour:
    """Return a pour whose lye was seen to be dissolved, and that is at trace next."""
    pour = bench.begin()
    bench.go_on(pour, until="trace")
    return pour


def test_lye_that_is_added_after_the_look_wants_another(bench: Bench) -> None:
    pour = dissolved(bench)
    bench.weigh(pour, "naoh", "1", stands=True)
    assert bench.table(pour).next == "dissolved"
    with pytest.raises(Conflict, match="Look first whether all of the lye is dissolved again") as refused:
        bench.say(pour, "trace")
    assert refused.value.code == "not_dissolved"
    bench.say(pour, "dissolved")
    assert bench.say(pour, "trace").kind == "trace"


def test_lye_that_is_weighed_anew_after_the_look_wants_another(bench: Bench) -> None:
    pour = dissolved(bench)
    row = bench.table(pour).rows(bench.table(pour).lines["naoh"].slot)[0]
    bench.weigh(pour, "naoh", "143.4", corrects=row.pk)
    with pytest.raises(Conflict, match="Look first"):
        bench.say(pour, "trace")


def test_of_two_weighings_the_one_that_is_taken_back_leaves_the_look_at_the_other(bench: Bench) -> None:
    pour = dissolved(bench)
    row = bench.weigh(pour, "naoh", "1", stands=True)
    bench.say(pour, "unsaid", corrects=row.pk, words="never left the bag")
    assert bench.table(pour).next == "trace"


def test_undissolved_lye_is_settled_by_another_look_and_by_nothing_else(bench: Bench) -> None:
    pour = dissolved(bench)
    seen = bench.say(pour, "doubt", words="Undissolved lye")
    assert bench.table(pour).must_stop
    with pytest.raises(Conflict, match="Undissolved lye was seen"):
        bench.say(pour, "trace")
    with pytest.raises(Conflict, match="is not taken back") as refused:
        bench.say(pour, "unsaid", corrects=seen.pk, words="a slip")
    assert refused.value.code == "undissolved"
    # Nor is it another doubt, that could be taken back.
    with pytest.raises(Conflict, match="is not taken back"):
        bench.say(pour, "doubt", corrects=seen.pk, words="it smells odd")
    assert bench.table(pour).must_stop
    bench.say(pour, "dissolved")
    assert not bench.table(pour).must_stop
    assert bench.say(pour, "trace").kind == "trace"


def test_a_look_settles_undissolved_lye_and_no_other_doubt(bench: Bench) -> None:
    pour = dissolved(bench)
    bench.say(pour, "doubt", words="Undissolved lye")
    bench.say(pour, "doubt", words="it smells odd")
    with pytest.raises(Conflict, match="doubted"):
        bench.say(pour, "dissolved")


def test_the_look_that_settled_it_is_taken_back_and_it_stands_again(bench: Bench) -> None:
    pour = dissolved(bench)
    bench.say(pour, "doubt", words="Undissolved lye")
    look = bench.say(pour, "dissolved")
    bench.say(pour, "unsaid", corrects=look.pk, words="touched by mistake")
    assert bench.table(pour).must_stop
    with pytest.raises(Conflict):
        bench.say(pour, "trace")


def test_undissolved_lye_after_trace_stays_a_stop(bench: Bench) -> None:
    pour = dissolved(bench)
    look = bench.table(pour).told("dissolved")
    bench.say(pour, "trace")
    seen = bench.say(pour, "doubt", words="Undissolved lye")
    for kind, more in (("dissolved", {}), ("dissolved", {"corrects": look.pk}), ("unsaid", {"corrects": seen.pk})):
        with pytest.raises(Conflict):
            bench.say(pour, kind, words="so it is", **more)
    assert bench.table(pour).must_stop


def test_what_was_seen_before_trace_is_not_taken_back_after_it(bench: Bench) -> None:
    pour = dissolved(bench)
    look = bench.table(pour).told("dissolved")
    bench.say(pour, "trace")
    with pytest.raises(Conflict, match="what was seen of the lye before stays"):
        bench.say(pour, "unsaid", corrects=look.pk, words="touched by mistake")


@pytest.mark.parametrize("short", ["100", "0"])
def test_water_that_cannot_dissolve_the_lye_is_said_and_refused_before_the_lye_goes_in(bench: Bench, short: str) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="2")
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "2", short)
    # 143.5 g of 99 % are 142.1 g pure, which need as much water.
    assert f"143.5 g of it needs 142.1 g of water, and in front stand {short} g" in asked.value.message
    bench.weigh(pour, "2", short, stands=True)
    bench.go_on(pour, until="dissolved")
    with pytest.raises(Conflict, match="The lye cannot all dissolve") as refused:
        bench.say(pour, "dissolved")
    assert refused.value.code == "little_water"
    bench.weigh(pour, "2", Decimal(150) - Decimal(short), stands=True)
    bench.go_on(pour)
    assert bench.table(pour).next is None


def test_water_that_is_told_to_have_been_too_little_after_trace_stops(bench: Bench) -> None:
    pour = dissolved(bench)
    bench.say(pour, "trace")
    row = bench.table(pour).rows(bench.table(pour).lines["2"].slot)[0]
    bench.weigh(pour, "2", "90", corrects=row.pk, stands=True)
    assert bench.table(pour).must_stop
    with pytest.raises(Conflict, match="could not dissolve all of the lye"):
        bench.say(pour, "mould")
