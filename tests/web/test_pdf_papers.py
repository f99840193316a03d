"""A PDF through the page of a lot: what is said of one that is not taken."""

from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse

from inventory.models import LotFile
from tests.papers import PDF, in_root
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import World


def test_a_pdf_that_acts_or_is_read_in_two_ways_is_told_in_words(world: World, tmp_path: Path, settings: Any) -> None:
    settings.DATA_FOLDER = tmp_path
    visitor = Visitor(world)

    def sent(content: bytes) -> HttpResponse:
        return visitor.post("lot_paper", world.lot("500").pk, file=SimpleUploadedFile("Certificate.pdf", content))

    uri = b"<</S/URI/URI(http://example.com/)>>"
    assert "does something by itself" in words_of(sent(in_root(b"/OpenAction " + uri)))
    for hidden in (b"/AA <<>>/AA <</WC %s>>" % uri, b"/Foo ]/AA <</WC %s>>" % uri):
        assert "print it to a new PDF" in words_of(sent(in_root(hidden)))
    assert "something before its beginning" in words_of(sent(b"\r\n" + PDF))
    assert sent(in_root(b"/Lang (en)")).status_code == 302
    assert LotFile.objects.within(world.workshop).count() == 1
