"""The parts that pages are built from: frame, tag, icons, fields."""

import re
from dataclasses import dataclass
from html.parser import HTMLParser

import pytest
from django import forms
from django.template.loader import get_template
from django.template.loader import render_to_string as rendered

from curehouse.web.marks import mark_of


@dataclass(frozen=True)
class Room:
    name: str
    url: str
    icon: str
    current: bool = False


class Bar(forms.Form):
    weight = forms.DecimalField(label="Weight", help_text="As the scale shows it.", error_messages={"invalid": "Give grams."})
    note = forms.CharField(required=False)
    days = forms.MultipleChoiceField(
        label="Round days", choices=[("1", "Monday")], widget=forms.CheckboxSelectMultiple, help_text="One or more."
    )
    wrapped = forms.BooleanField(label="Wrapped", required=False)


class _Shape(HTMLParser):
    """Every element of a page with its attributes; elements left open are an AssertionError."""

    VOID = frozenset({"meta", "link", "input", "br", "hr", "img", "path", "circle", "rect"})

    def __init__(self, markup: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(markup)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def one(self, tag: str, **wanted: str) -> dict[str, str | None]:
        (only,) = [a for t, a in self.found if t == tag and all(a.get(k.rstrip("_")) == v for k, v in wanted.items())]
        return only


@pytest.fixture
def frame(settings):
    settings.STORAGES = {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}

    def render(**context) -> str:
        rooms = (
            Room("Today", "/", "today", current=True),
            Room("Bench", "/bench/", "bench"),
            Room("Racks", "/racks/", "racks"),
        )
        return rendered("web/base.html", {"rooms": rooms, "notices_url": "/notices/", **context})

    return render


def test_title_counts_open_notices_and_is_plain_without_any(frame):
    assert "<title>(3) " in frame(open_notice_count=3)
    assert "<title> · Curehouse</title>" in frame(open_notice_count=0)


def test_frame_marks_the_current_room_and_links_the_others(frame):
    shape = _Shape(frame())
    rooms = {a["href"]: a.get("aria-current") for tag, a in shape.found if tag == "a" and "href" in a}
    assert rooms == {"#page": None, "/": "page", "/bench/": None, "/racks/": None, "/notices/": None}
    assert shape.one("main", id="page")["tabindex"] == "-1"


def test_frame_loads_nothing_from_elsewhere_and_holds_nothing_inline(frame):
    markup = frame(workshop_name="<Fennel> Yard")
    assert not re.search(r'(?:src|href)="(?:https?:)?//', markup)
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", markup)
    assert all(a.get("src") for tag, a in _Shape(markup).found if tag == "script")
    assert "&lt;Fennel&gt; Yard" in markup


def test_sign_in_frame_has_no_rooms(settings):
    settings.STORAGES = {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
    assert not [tag for tag, _ in _Shape(rendered("web/bare.html")).found if tag == "nav"]


def test_tag_is_a_mark_hidden_from_readers_beside_its_word():
    markup = rendered("web/parts/tag.html", {"mark": mark_of("ready")})
    assert '<span class="tag state-leaf"><span aria-hidden="true">✓</span>ready</span>' in markup
    assert "day 21" in rendered("web/parts/tag.html", {"mark": mark_of("curing"), "text": "day 21"})


@pytest.mark.parametrize("name", ["today", "bench", "racks", "storeroom", "counter", "books", "brand"])
def test_icons_are_drawn_and_decorative(name):
    shape = _Shape(rendered("web/parts/icons.html", {"name": name}))
    assert shape.found[0][1]["aria-hidden"] == "true"
    assert len(shape.found) > 1


def test_field_ties_hint_and_remedy_to_its_input():
    form = Bar({"weight": "heavy"})
    shape = _Shape(rendered("web/parts/field.html", {"field": form["weight"]}))
    box = shape.one("input")
    assert box["aria-invalid"] == "true"
    ids = {a["id"] for _, a in shape.found if "id" in a}
    assert set(box["aria-describedby"].split()) == {"id_weight_helptext", "id_weight_error"} <= ids
    assert shape.one("label")["for"] == box["id"]


def test_field_says_what_may_be_left_out():
    assert "(optional)" in rendered("web/parts/field.html", {"field": Bar()["note"]})
    assert "(optional)" not in rendered("web/parts/field.html", {"field": Bar()["weight"]})


def test_field_of_several_choices_is_a_group_with_a_legend():
    shape = _Shape(rendered("web/parts/field.html", {"field": Bar({})["days"]}))
    assert set(shape.one("fieldset")["aria-describedby"].split()) == {"id_days_helptext", "id_days_error"}
    assert [tag for tag, _ in shape.found if tag == "legend"]


def test_field_of_one_tick_stands_before_its_label():
    markup = rendered("web/parts/field.html", {"field": Bar()["wrapped"]})
    assert markup.index("<input") < markup.index("Wrapped")


def test_form_errors_name_the_field_and_link_to_it():
    markup = rendered("web/parts/form_errors.html", {"form": Bar({"weight": "heavy", "days": ["1"]})})
    assert '<a href="#id_weight">Weight</a>: Give grams.' in markup
    assert get_template("web/parts/form_errors.html").render({"form": Bar()}).strip() == ""


def test_form_errors_name_the_field_once():
    form = Bar({"weight": "118.6", "days": ["1"]})
    form.add_error("weight", "Weight is missing: type it in figures.")
    markup = rendered("web/parts/form_errors.html", {"form": form})
    assert '<a href="#id_weight">Weight is missing: type it in figures.</a>' in markup
