"""No page loads anything from another origin: no script, style, picture, font, frame or answer."""

import re
from pathlib import Path

import pytest
from django.conf import settings

from curehouse.web import apps
from tests.web.visitor import Visitor
from tests.world import World

WEB = Path(apps.__file__).parent
TEMPLATES = sorted((WEB / "templates").rglob("*.html"))
STATIC = [path for path in sorted((WEB / "static").rglob("*")) if path.suffix in {".css", ".js", ".svg"}]
# What a browser fetches or sends to by itself; a link (<a href>) is followed by a person.
LOADS = re.compile(r"""<(?!a\b)[a-z-]+\b[^>]*?\b(?:src|srcset|href|action|formaction|poster|data|hx-[a-z]+)=["']([^"']*)["']""")
FAR = re.compile(r"(?:[a-z]+:)?//", re.IGNORECASE)
NAMESPACES = re.compile(r"http://www\.w3\.org/[\w/]+")


def far_in(template: str) -> list[str]:
    return [address for address in LOADS.findall(template) if FAR.match(address)]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(WEB)))
def test_a_template_loads_only_what_the_house_serves(path: Path) -> None:
    assert far_in(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", STATIC, ids=lambda path: path.name)
def test_a_script_a_style_and_a_picture_load_nothing_from_elsewhere(path: Path) -> None:
    said = NAMESPACES.sub("", path.read_text(encoding="utf-8"))
    assert re.findall(r"""(?:url\(|@import|import|fetch\(|src=)\s*["']?(?:[a-z]+:)?//""", said) == []


def test_what_would_load_something_is_found() -> None:
    assert far_in('<script nonce="x" src="https://cdn.example/a.js" defer></script>') == ["https://cdn.example/a.js"]
    assert far_in('<link rel="stylesheet" href="//fonts.example/a.css">') == ["//fonts.example/a.css"]
    assert far_in('<a href="https://law.example/">the law</a>') == []


@pytest.mark.django_db
def test_a_browser_is_told_to_load_nothing_else(world: World) -> None:
    policy = Visitor(world).get("racks").headers["Content-Security-Policy"]
    allowed = {word for rule in policy.split(";") for word in rule.split()[1:]}
    assert {word for word in allowed if not word.startswith("'nonce-")} == {"'self'", "'none'"}
    assert settings.STATIC_URL.startswith("/") and not settings.STATIC_URL.startswith("//")
