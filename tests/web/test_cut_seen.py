"""What is seen at the cut: said with it or later, shown on the batch and its sheet, and balanced against the pour."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from curehouse.making.models import Batch, CutNote
from curehouse.making.services import CutSeen, note_cut
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
CUT = {"cut_at": "2026-03-10T09:30", "bars": "22", "sample_bars": "4", "position": ""}
SEEN = {"gel": "part", "trim_g": "86,5", "cut_note": "the knife dragged"}


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def notes(batch: Batch) -> list[tuple[str, Decimal | None, str]]:
    rows = CutNote.objects.within(batch.workshop).filter(batch=batch).order_by("pk")
    return [(row.gel, row.trim_g, row.note) for row in rows]


def test_what_is_seen_is_kept_with_the_cut_and_stands_on_the_batch_and_its_sheet(visitor: Visitor, world: World) -> None:
    poured = world.batch(cut_days_ago=None, poured_at=world.now - timedelta(days=1))
    assert visitor.post("batch_cut", poured.pk, **CUT, **SEEN).status_code == 302
    assert notes(poured) == [("part", Decimal("86.5"), "the knife dragged")]
    for page in ("batch", "batch_record"):
        words = visitor.words(page, poured.pk)
        assert "Gel: seen in part. Trimmings: 86.5 g. the knife dragged" in words
        assert "Said Tue 10 Mar, 10:00 by Ottilie Brandt." in words


def test_a_cut_of_which_nothing_is_said_writes_nothing(visitor: Visitor, world: World) -> None:
    poured = world.batch(cut_days_ago=None, poured_at=world.now - timedelta(days=1))
    assert visitor.post("batch_cut", poured.pk, **CUT, gel="", trim_g="", cut_note=" ").status_code == 302
    assert notes(poured) == []
    assert "Nobody said what was seen: gel, trimmings." in visitor.words("batch", poured.pk)


def test_after_the_cut_weighing_the_sample_bars_comes_first(visitor: Visitor, world: World) -> None:
    poured = world.batch(cut_days_ago=None, poured_at=world.now - timedelta(days=1))
    answer = visitor.post("batch_cut", poured.pk, **CUT)
    page = visitor.client.get(answer.url).content.decode()
    first = page.split("<main")[1].split('class="button')[1].split("</a>")[0]
    assert first.endswith(">Weigh the sample bars now")
    assert f"{reverse('web:round')}?batch={poured.pk}" in first
    world.weigh(world.bar(poured), "131.0", moment=world.now)
    page = visitor.get("batch", poured.pk).content.decode()
    assert "Weigh the sample bars now" not in page
    assert ">Weigh now</a>" in page


def test_it_is_said_later_and_the_newest_counts(visitor: Visitor, world: World) -> None:
    batch = world.batch()
    assert visitor.post("batch_cut_note", batch.pk, **SEEN).status_code == 302
    form = visitor.get("batch_cut_note", batch.pk).content.decode()
    assert 'value="86.5"' in form
    assert '<option value="part" selected>' in form
    assert visitor.post("batch_cut_note", batch.pk, gel="none", trim_g="0", cut_note="").status_code == 302
    # Said once more as it stands, it is not kept again.
    assert visitor.post("batch_cut_note", batch.pk, gel="none", trim_g="0", cut_note="").status_code == 302
    assert [row[:2] for row in notes(batch)] == [("part", Decimal("86.5")), ("none", Decimal(0))]
    assert "Gel: not seen. Trimmings: none." in visitor.words("batch", batch.pk)
    assert "Said before: Gel: seen in part. Trimmings: 86.5 g." in visitor.words("batch_record", batch.pk)
    # Nobody looked after all: that is a saying too.
    assert visitor.post("batch_cut_note", batch.pk, gel="", trim_g="", cut_note="").status_code == 302
    assert "Gel: nobody looked. Trimmings: not weighed." in visitor.words("batch", batch.pk)


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"trim_g": "some"}, "The weight of the trimmings reads “some”"),
        ({"trim_g": "-3"}, "The weight of the trimmings must be more than 0 g."),
        ({"gel": "all over"}, "choose one from the list"),
        ({"cut_note": "x" * 401}, "The note on the cut is too long: keep it to 400 characters."),
        ({"gel": "", "trim_g": "", "cut_note": ""}, "Nothing is said yet: choose the gel"),
    ],
)
def test_what_cannot_be_read_is_refused_beside_its_field(
    visitor: Visitor, world: World, changes: dict[str, str], remedy: str
) -> None:
    batch = world.batch()
    answer = visitor.post("batch_cut_note", batch.pk, **{**SEEN, **changes})
    assert answer.status_code == 200
    assert remedy in answer.content.decode()
    assert notes(batch) == []


def test_a_batch_that_is_not_cut_has_no_cut_to_speak_of(visitor: Visitor, world: World) -> None:
    poured = world.batch(cut_days_ago=None)
    assert visitor.get("batch_cut_note", poured.pk).status_code == 409


def test_ounces_are_typed_and_read_back(monkeypatch: pytest.MonkeyPatch) -> None:
    world = World(unit="oz")
    set_clock(monkeypatch, world.now)
    visitor, batch = Visitor(world), world.batch()
    visitor.post("batch_cut_note", batch.pk, gel="", trim_g="3.5", cut_note="")
    # NIST Handbook 44, Appendix C: 3.5 oz are 99.223 g.
    assert notes(batch) == [("", Decimal("99.223"), "")]
    assert "Trimmings: 3.50 oz." in visitor.words("batch", batch.pk)
    assert 'value="3.5"' in visitor.get("batch_cut_note", batch.pk).content.decode()


def poured_g(batch: Batch) -> Decimal:
    return batch.fats_g + batch.lye_g + sum((one.mass_g for one in batch.liquids.all()), Decimal(0))


def cut_into(world: World, *, part: str) -> Batch:
    """Return a batch whose bars come to *part* of what was poured, less 50 g of trimmings."""
    batch = world.batch(cut_days_ago=1)
    each = (poured_g(batch) * Decimal(part) - 50) / batch.bars_cut
    for letter, more in (("A", -1), ("B", 0), ("C", 1)):
        world.weigh(world.bar(batch, letter), f"{each + more:.1f}", moment=batch.cut_at + timedelta(minutes=30))
    # Of another day: no start weight.
    world.weigh(world.bar(batch), f"{each * Decimal('0.97'):.1f}", moment=world.now)
    note_cut(actor=world.actor, batch=batch, seen=CutSeen(trim_g=Decimal(50)), at=world.now)
    return batch


@pytest.mark.parametrize(
    ("part", "said", "is_off"),
    [
        ("0.98", "2.0 % less", False),
        ("1.09", "9.0 % more", False),
        ("0.88", "12.0 % less", True),
        ("1.12", "12.0 % more", True),
    ],
)
def test_the_cut_is_balanced_against_the_pour(visitor: Visitor, world: World, part: str, said: str, is_off: bool) -> None:
    batch = cut_into(world, part=part)
    words = visitor.words("batch_record", batch.pk)
    assert f"{said}." in words
    assert "and 50.0 g of trimmings come to" in words
    assert ("That is worth a look" in words) is is_off


def without_trim(world: World) -> Batch:
    batch = world.batch(cut_days_ago=1)
    world.weigh(world.bar(batch), "130.0", moment=batch.cut_at)
    return batch


def without_start(world: World) -> Batch:
    batch = world.batch(cut_days_ago=3)
    world.weigh(world.bar(batch), "130.0", moment=world.now)
    note_cut(actor=world.actor, batch=batch, seen=CutSeen(trim_g=Decimal(50)), at=world.now)
    return batch


@pytest.mark.parametrize("make", [without_trim, without_start])
def test_nothing_is_balanced_where_something_is_not_known(
    visitor: Visitor, world: World, make: Callable[[World], Batch]
) -> None:
    assert "come to" not in visitor.words("batch_record", make(world).pk)
