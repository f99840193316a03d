"""The page of a batch's label weight: worked out and shown, kept with a press, said on the batch's own page."""

import re
from datetime import timedelta
from typing import Any

import pytest

from curehouse.curing.models import Cure, LabelWeight
from curehouse.flows.foretell import foretell_wanting
from curehouse.making.models import Batch
from curehouse.workshops.models import AuditEntry
from tests.curing.test_labels import dries_on, foretold
from tests.flows.test_foretell import cured
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def hidden(page: str) -> dict[str, str]:
    """Return what the page would send if its label were kept."""
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))


def labels(world: World) -> Any:
    return LabelWeight.objects.within(world.workshop)


def keep(visitor: Visitor, batch: Batch, query: str = "") -> LabelWeight:
    """Look at the label and press."""
    sent = hidden(visitor.get("batch_label", batch.pk, query=query).content.decode())
    key = sent.pop("form_key")
    answer = visitor.post("batch_label", batch.pk, form_key=key, **sent)
    assert answer.status_code == 302, text_of(answer)
    return labels(visitor.world).newest_first().first()


def test_a_look_shows_the_figure_and_keeps_nothing(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    words = visitor.words("batch_label", batch.pk)
    assert re.search(r"The largest net weight that does \d+ g", words)
    assert "Directive 76/211/EEC, Annex I; packed" in words
    assert "holds after 12 months on the shelf" in words
    assert re.search(r"8 of 10 bars .* \d+\.\d g – \d+\.\d g", words)
    assert "That it holds for 24 bars is" in words
    assert "Local law decides" in words
    assert not labels(world).exists()


def test_there_is_no_field_to_type_a_weight_in(world: World, visitor: Visitor) -> None:
    page = visitor.get("batch_label", foretold(world).pk).content.decode()
    typed = re.findall(r'<input type="(?!hidden)(\w+)" name="(\w+)"', page)
    assert typed == [("date", "packed_on")]
    assert "weight" not in hidden(page)


def test_a_weight_that_is_sent_all_the_same_changes_nothing(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    sent = hidden(visitor.get("batch_label", batch.pk).content.decode())
    key = sent.pop("form_key")
    visitor.post("batch_label", batch.pk, form_key=key, weight_g="999", label="999", **sent)
    assert labels(world).get().weight_g < 200


def test_what_is_kept_is_what_was_seen_and_stands_on_the_batchs_page(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    seen = re.search(r"The largest net weight that does (\d+) g", visitor.words("batch_label", batch.pk))[1]
    label = keep(visitor, batch)
    assert label.weight_g == int(seen)
    words = visitor.words("batch", batch.pk)
    assert f"on its label {seen} g" in words
    assert f"Chosen by {world.owner.name}, Tue 10 Mar, for 24 bars" in words
    assert label.forecast.fingerprint[:12] in words
    assert "no longer allows" not in words
    entry = AuditEntry.objects.within(world.workshop).order_by("-pk").first()
    assert (entry.code, str(batch) in entry.said) == ("batch_label", True)


def test_the_page_asks_again_as_it_was_chosen_last(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    day = (batch.cut_at + timedelta(days=50)).date().isoformat()
    keep(visitor, batch, f"?rule=handbook_133&wrap=band&packed_on={day}&shelf_months=6&probability=0.990")
    sent = hidden(visitor.get("batch_label", batch.pk).content.decode())
    assert (sent["rule"], sent["wrap"], sent["packed_on"]) == ("handbook_133", "band", day)
    assert (sent["shelf_months"], sent["probability"]) == ("6", "0.990")
    assert "Kept so far" in visitor.words("batch_label", batch.pk)


def test_the_batch_says_when_the_newest_forecast_would_no_longer_allow_it(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    keep(visitor, batch)
    dries_on(world, batch)
    assert re.search(
        r"The newest forecast no longer allows it: by it the rule is [\d.]+\s% sure", visitor.words("batch", batch.pk)
    )


def test_a_figure_that_moved_meanwhile_is_shown_anew_instead_of_kept(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    sent = hidden(visitor.get("batch_label", batch.pk).content.decode())
    world.weigh_series(batch, {21: "112.0"})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    key = sent.pop("form_key")
    answer = visitor.post("batch_label", batch.pk, form_key=key, **sent)
    assert "changed since you looked" in text_of(answer)
    assert re.search(r"The largest net weight that does \d+ g", text_of(answer))
    assert hidden(answer.content.decode())["seen"] != sent["seen"]
    assert not labels(world).exists()


def test_a_label_that_is_wished_for_says_how_heavy_to_cut(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    sent = hidden(visitor.get("batch_label", batch.pk).content.decode())
    query = "&".join(f"{name}={sent[name]}" for name in ("rule", "wrap", "packed_on", "shelf_months", "probability"))
    words = visitor.words("batch_label", batch.pk, query=f"?{query}&wanted=125.000")
    assert re.search(r"For a label of 125 g cut bars like these to 1\d\d\.\d g on average; these were 1\d\d\.\d g\.", words)


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("?rule=directive_76_211", "The day of packing is missing"),
        ("?rule=nobodys&packed_on=2026-04-01&wrap=open&shelf_months=0&probability=0.950", "The rule is not in the list"),
        ("?rule=handbook_133&packed_on=1999-04-01&wrap=open&shelf_months=0&probability=0.950", "is not a day"),
        ("?rule=handbook_133&packed_on=2026-03-01&wrap=open&shelf_months=0&probability=0.950", "old enough: on 2026-03-17"),
    ],
)
def test_what_cannot_be_asked_is_said_with_a_remedy(world: World, visitor: Visitor, query: str, says: str) -> None:
    words = visitor.words("batch_label", foretold(world).pk, query=query)
    assert says in words
    assert "The largest net weight that does" not in words


def test_a_batch_without_a_forecast_is_told_what_is_missing(world: World, visitor: Visitor) -> None:
    batch = cured(world, days_ago=21, last=14)
    answer = visitor.get("batch_label", batch.pk)
    assert answer.status_code == 409
    assert "weigh its sample bars" in text_of(answer)
    assert "label weight" not in visitor.words("batch", batch.pk)


def test_the_label_costs_the_batchs_page_no_query(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    before = visitor.queries("batch", batch.pk)
    keep(visitor, batch)
    assert visitor.queries("batch", batch.pk) == before == 19


def test_the_labels_page_takes_as_many_queries_for_ten_labels_as_for_one(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    keep(visitor, batch)
    # Session, person, membership, batch, cure, the workshop's newest label, those of the batch; the count in the title.
    few = visitor.queries("batch_label", batch.pk)
    for _ in range(9):
        keep(visitor, batch)
    assert visitor.queries("batch_label", batch.pk) == few == 8
    assert Cure.objects.within(world.workshop).get(batch=batch).label == labels(world).newest_first().first()
