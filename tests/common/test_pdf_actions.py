"""A PDF is paper: what acts by itself, holds files, is locked or broken is refused; what printers make is taken."""

import re
import subprocess
import sys
import time
import zlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader, PdfWriter
from pypdf.generic import (
    ArrayObject,
    DictionaryObject,
    Fit,
    NameObject,
    NullObject,
    NumberObject,
    TextStringObject,
)

from curehouse.common import pdf_actions, pdfs
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.file_kinds import PDF, kind_of
from tests.papers import in_root, listed, paper
from tests.present import chromium


def dictionary(**said: object) -> DictionaryObject:
    return DictionaryObject({NameObject(f"/{key}"): value for key, value in said.items()})


def action(kind: str, **said: object) -> DictionaryObject:
    return dictionary(S=NameObject(f"/{kind}"), **said)


def set_in_root(key: str, value: object) -> Callable[[PdfWriter], None]:
    return lambda writer: writer.root_object.update({NameObject(key): value})


def set_on_page(key: str, value: object) -> Callable[[PdfWriter], None]:
    return lambda writer: writer.pages[0].update({NameObject(key): value})


def note(subtype: str, **said: object) -> Callable[[PdfWriter], None]:
    rect = ArrayObject(map(NumberObject, (0, 0, 50, 20)))
    one = dictionary(Type=NameObject("/Annot"), Subtype=NameObject(f"/{subtype}"), Rect=rect, **said)
    return set_on_page("/Annots", ArrayObject([one]))


def goes_to_page_one(writer: PdfWriter) -> ArrayObject:
    return ArrayObject([writer.pages[0].indirect_reference, NameObject("/Fit")])


SCRIPT = action("JavaScript", JS=TextStringObject("app.alert(1)"))
ADDRESS = TextStringObject("https://example.com/")


def packed_away(
    body: bytes, *, filters: bytes = b"/Filter /FlateDecode", packs: Callable[[bytes], bytes] = zlib.compress
) -> bytes:
    """Return a PDF whose object 9 stands in an object stream that no list of objects names."""
    inside = b"9 0 " + body
    stream = packs(inside)
    head = b"<< /Type /ObjStm /N 1 /First 4 /Length %d %s >>" % (len(stream), filters)
    return paper().replace(b"startxref", b"8 0 obj\n%s\nstream\n%s\nendstream\nendobj\nstartxref" % (head, stream), 1)


ACTS = {
    "a script as it is opened": set_in_root("/OpenAction", SCRIPT),
    "a program that is started": set_in_root("/OpenAction", action("Launch", F=TextStringObject("cmd.exe"))),
    "an address that is called as it is opened": set_in_root("/OpenAction", action("URI", URI=ADDRESS)),
    "a printer that is started": set_in_root("/OpenAction", action("Named", N=NameObject("/Print"))),
    "a script after going to a page": set_in_root("/OpenAction", action("GoTo", D=NullObject(), Next=SCRIPT)),
    "a script by name": set_in_root(
        "/Names", dictionary(JavaScript=dictionary(Names=ArrayObject([TextStringObject("a"), SCRIPT])))
    ),
    "something done as a page is shown": set_on_page("/AA", dictionary(O=action("URI", URI=ADDRESS))),
    "something done as it is closed": set_in_root("/AA", dictionary(WC=SCRIPT)),
    "a form that is sent": note("Widget", A=action("SubmitForm", F=ADDRESS)),
    "a form that takes in a file": note("Widget", A=action("ImportData", F=TextStringObject("a.fdf"))),
    "a form of a program": set_in_root("/AcroForm", dictionary(XFA=TextStringObject("<xdp/>"))),
    "a film that runs": note("RichMedia"),
    "a body in space": note("3D"),
    "a link to a file on another computer": note("Link", A=action("GoToR", F=TextStringObject(r"\\example.com\x"))),
    "a link into a packed file": note("Link", A=action("GoToE")),
    "a link into a thread of another file": note("Link", A=action("Thread", F=TextStringObject(r"\\example.com\x"))),
    "a link to a program": note("Link", A=action("URI", URI=TextStringObject("file:///c:/windows/calc.exe"))),
    "a link to a script": note("Link", A=action("URI", URI=TextStringObject(" JavaScript:alert(1)"))),
}
HOLDS_FILES = {
    "a file attached": lambda writer: writer.add_attachment("start.exe", b"MZ"),
    "a file pinned to a page": note("FileAttachment", FS=TextStringObject("a")),
    "a bill as data that holds nothing": set_in_root(
        "/AF", ArrayObject([dictionary(Type=NameObject("/Filespec"), EF=dictionary())])
    ),
    "a folder of papers": set_in_root("/Collection", dictionary(View=NameObject("/T"))),
}


def refused(content: bytes) -> Invalid:
    with pytest.raises(Invalid) as error:
        kind_of(content)
    assert error.value.field == "file"
    assert "print it to a new PDF" in error.value.message
    return error.value


@pytest.mark.parametrize("what", ACTS)
def test_what_acts_by_itself_is_refused_with_what_to_do(what: str) -> None:
    assert refused(paper(change=ACTS[what])).code == "file_runs"


@pytest.mark.parametrize("what", HOLDS_FILES)
def test_what_holds_other_files_is_refused(what: str) -> None:
    assert refused(paper(change=HOLDS_FILES[what])).code == "file_is_two"


@pytest.mark.parametrize("spelt", [b"/Java#53cript", b"/#4a#61#76#61#53#63#72#69#70#74", b"/JavaScrip#74"])
def test_a_name_is_known_however_it_is_spelt(spelt: bytes) -> None:
    plain = paper(change=ACTS["a script as it is opened"])
    assert b"/JavaScript" in plain
    assert refused(listed(plain.replace(b"/JavaScript", spelt))).code == "file_runs"
    assert refused(listed(plain.replace(b"/JavaScript", spelt).replace(b"/JS", b"/J#53"))).code == "file_runs"


def test_what_is_packed_in_an_object_stream_is_seen() -> None:
    assert refused(packed_away(b"<</S /JavaScript /JS (app.alert(1))>>")).code == "file_runs"
    assert refused(packed_away(b"<</AA <</O <</S/URI/URI(x)>> >> >>")).code == "file_runs"
    assert refused(packed_away(b"<</S/#4caunch/F(x)>>", filters=b"", packs=bytes)).code == "file_runs"
    twice = packed_away(
        b"<</S/Launch>>", filters=b"/Filter [/FlateDecode /FlateDecode]", packs=lambda one: zlib.compress(zlib.compress(one))
    )
    assert refused(twice).code == "file_runs"
    assert kind_of(packed_away(b"<</Type /Font>>")) == PDF


def test_what_a_later_revision_took_out_of_the_list_is_seen() -> None:
    """Another reader than ours may mend the list in its own way, and find it."""
    hidden = paper().replace(b"startxref", b"7 0 obj\n<</S/Launch/F(x)>>\nendobj\nstartxref", 1)
    assert refused(hidden).code == "file_runs"


def test_of_two_keys_alike_neither_hides_the_other() -> None:
    """Readers differ in which of them they take."""
    uri = b"<</S/URI/URI(http://example.com/)>>"
    for hidden in (
        b"/OpenAction <</S/GoTo/S/JavaScript>>",
        b"/OpenAction <</S/JavaScript/S/GoTo>>",
        b"/OpenAction [4 0 R/Fit]/OpenAction " + uri,
        b"/AA <<>>/AA <</WC %s>>" % uri,
        b"/A#41 null/AA <</WC %s>>" % uri,
    ):
        assert refused(in_root(hidden)).code in ("file_broken", "file_runs")
    body = b"8 0 <</S/JavaScript/JS(app.alert(1))>>"
    said = b"/Type/ObjStm/N 0/N 1/First 0/First 4/Filter []/Filter/FlateDecode"
    assert refused(packed_away(body[4:], filters=said)).code == "file_broken"


def test_the_root_these_tests_write_is_whole() -> None:
    assert kind_of(in_root(b"/Lang (en)")) == PDF
    assert refused(in_root(b"/AA <</WC <</S/URI/URI(x)>> >>")).code == "file_runs"


@pytest.mark.parametrize("fault", [b"/Foo ]", b"/Foo <zz>", b"/Foo +-+1", b"/Foo abc", b"(str)"])
def test_what_stands_behind_a_value_that_is_none_is_not_hidden(fault: bytes) -> None:
    assert refused(in_root(fault + b"/AA <</WC <</S/URI/URI(x)>> >>")).code == "file_broken"
    assert refused(in_root(fault)).code == "file_broken", "readers go on behind it in ways of their own"


def test_a_kind_that_stands_elsewhere_is_not_hidden() -> None:
    assert refused(in_root(b"/Foo <</S 9 0 R/F(x)>>")).code == "file_broken"


def test_a_stream_that_stands_in_another_file_is_refused() -> None:
    for said in (b"/F(//example.com/x)", b"/Subtype/Form/Ref <</F(x)/Page 0>>"):
        stream = b"8 0 obj\n<</Length 0%s>>\nstream\n\nendstream\nendobj\n" % said
        assert refused(paper().replace(b"xref\n0", stream + b"xref\n0", 1)).code in ("file_runs", "file_broken")


@pytest.mark.parametrize("path", ["/docs/Web/JavaScript/Guide", "/Launch/", "/a?(/JavaScript )"])
def test_an_address_may_have_any_word_in_it(path: str) -> None:
    address = TextStringObject("https://example.com" + path)
    assert kind_of(paper(change=note("Link", A=action("URI", URI=address)))) == PDF


BILL = b"<rsm:CrossIndustryInvoice xmlns:rsm='urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100'/>"


def test_a_bill_with_its_figures_as_data_is_taken_and_nothing_else_that_is_attached() -> None:
    def holding(*files: tuple[str, bytes]) -> bytes:
        return paper(change=lambda writer: [writer.add_attachment(name, content) for name, content in files])

    assert kind_of(holding(("factur-x.xml", BILL))) == PDF
    assert kind_of(holding(("zugferd-invoice.xml", b"<?xml version='1.0'?>\n" + BILL))) == PDF
    for files in (
        [("factur-x.xml", b"MZ")],
        [("factur-x.exe", BILL)],
        [("factur-x.xml", b"<svg xmlns='http://www.w3.org/2000/svg'/>")],
        [("factur-x.xml", b"<?xml-stylesheet href='x'?>" + BILL)],
        [("factur-x.xml", b"<!DOCTYPE a>" + BILL)],
        [("factur-x.xml", BILL), ("start.exe", b"MZ")],
    ):
        assert refused(holding(*files)).code == "file_is_two", files


@pytest.mark.parametrize("before", [b"\xef\xbb\xbf", b"junk\n", b"\r\n", b"\0\1\2", b"\xff\xfe"])
def test_what_has_something_before_its_beginning_is_said_to_be_broken(before: bytes) -> None:
    assert refused(before + paper()).code == "file_broken"


def locked_with(password: str, algorithm: str, change: Callable[[PdfWriter], None]) -> bytes:
    def lock(writer: PdfWriter) -> None:
        change(writer)
        writer.encrypt(password, owner_password="secret", algorithm=algorithm)

    return paper(change=lock)


@pytest.mark.parametrize("algorithm", ["RC4-40", "RC4-128"])
def test_what_only_an_owner_may_change_is_read_and_what_needs_a_password_is_not(algorithm: str) -> None:
    """Suppliers lock certificates against changes; nobody has to type a password to read those."""
    assert kind_of(locked_with("", algorithm, PLAIN["one with a link to the supplier"])) == PDF
    for what in ("a script as it is opened", "a link to a script"):
        assert refused(locked_with("", algorithm, ACTS[what])).code == "file_runs"
    error = refused(locked_with("a password", algorithm, PLAIN["an empty page"]))
    assert (error.code, "encrypted" in error.message) == ("file_broken", True)


PLAIN = {
    "an empty page": lambda writer: None,
    "one that opens on its first page": lambda writer: set_in_root("/OpenAction", goes_to_page_one(writer))(writer),
    "one that goes to its first page": lambda writer: set_in_root(
        "/OpenAction", writer._add_object(action("GoTo", D=goes_to_page_one(writer)))
    )(writer),
    "one that opens on a place by name": set_in_root("/OpenAction", TextStringObject("first")),
    "one with marks to find pages by": lambda writer: writer.add_outline_item(title="Acid value", page_number=0, fit=Fit.fit()),
    "one with a link to the supplier": note("Link", A=action("URI", URI=ADDRESS)),
    "one with a form that does nothing": set_in_root("/AcroForm", dictionary(Fields=ArrayObject())),
    "one that says who made it": lambda writer: writer.add_metadata({"/Title": "Certificate of /JS and /AA"}),
    "one whose parts have names of their own": set_in_root("/StructTreeRoot", dictionary(K=action("Span"))),
    "one with an empty list of what is done": set_on_page("/AA", DictionaryObject()),
}


@pytest.mark.parametrize("what", PLAIN)
def test_what_printers_make_is_taken(what: str) -> None:
    content = paper(change=PLAIN[what])
    assert kind_of(content) == PDF
    assert kind_of(content + bytes(2000)) == PDF, "some pad the end"


def test_what_is_kept_packed_is_taken() -> None:
    """Lists of objects as streams, and objects in streams: as most programs have written them since PDF 1.5."""
    body = b"<</Type /Catalog /Pages 2 0 R>> <</Type /Pages /Kids [3 0 R] /Count 1>> <</Type /Page /Parent 2 0 R>>"
    places = [found.start() for found in re.finditer(rb"<</Type", body)]
    head = b" ".join(b"%d %d" % (number, place) for number, place in enumerate(places, 1)) + b" "
    packed = zlib.compress(head + body)
    begins = b"%PDF-1.5\n"
    stream = b"4 0 obj\n<</Type/ObjStm/N 3/First %d/Filter/FlateDecode/Length %d>>\nstream\n" % (len(head), len(packed))
    whole = begins + stream + packed + b"\nendstream\nendobj\n"
    rows = [(0, 0, 65535), (2, 4, 0), (2, 4, 1), (2, 4, 2), (1, len(begins), 0), (1, len(whole), 0)]
    listed = b"".join(bytes([kind]) + first.to_bytes(3, "big") + second.to_bytes(2, "big") for kind, first, second in rows)
    said = b"<</Type/XRef/Size 6/W[1 3 2]/Root 1 0 R/Length %d>>" % len(listed)
    content = whole + b"5 0 obj\n%s\nstream\n%s\nendstream\nendobj\nstartxref\n%d\n%%%%EOF\n" % (said, listed, len(whole))
    assert kind_of(content) == PDF
    acting = content.replace(b"/Root 1 0 R", b"/Root 1 0 R/Encrypt <</Filter/Standard>>")
    assert refused(acting).code == "file_broken"


@pytest.mark.needs("chromium")
def test_what_a_browser_printed_is_taken(tmp_path: Path) -> None:
    page, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    us = "<a href='https://example.com/Web/JavaScript/Guide'>us</a>"
    page.write_text(f"<h1>Certificate</h1><p>Acid value 0.05, see {us}, <a href='#x'>below</a>")
    words = [
        "--headless",
        "--no-sandbox",
        f"--user-data-dir={tmp_path / 'profile'}",
        f"--print-to-pdf={printed}",
        page.as_uri(),
    ]
    subprocess.run([chromium(), *words], check=True, capture_output=True, timeout=60)
    assert kind_of(printed.read_bytes()) == PDF


def test_what_unpacks_to_more_than_a_paper_holds_is_refused_soon() -> None:
    bomb = packed_away(b" " * (200 * 2**20), packs=lambda one: zlib.compress(one, 9))
    assert len(bomb) < 2**20
    began = time.monotonic()
    refused(bomb)
    assert time.monotonic() - began < pdfs.ANSWER_WITHIN_SECONDS


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 100_000,
        b"<</A" * 100_000,
        b"(" * 100_000,
        b"9 0 R",
        b"<</Type/ObjStm/N 99999999999/First 4/Length 9 0 R>>\nstream\n\nendstream",
        b"<</Type/ObjStm/N (x)/First /y/Length 5>>\nstream\n9 0 1\nendstream",
        b"<</Type/ObjStm/N 1/First 4/Filter/JBIG2Decode/Length 5>>\nstream\n9 0 1\nendstream",
    ],
)
def test_what_is_made_to_trip_a_reader_is_answered_in_words(body: bytes) -> None:
    for content in (
        paper().replace(b"<<\n/Type /Catalog", body + b"<<\n/Type /Catalog", 1),
        paper() + b"9 0 obj\n" + body + b"\n%%EOF\n",
    ):
        try:
            assert kind_of(content) == PDF
        except Invalid as error:
            assert "print it to a new PDF" in error.message


def test_what_keeps_a_reader_busy_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdfs, "_RUNS", [sys.executable, "-c", "while True:\n    pass\n"])
    monkeypatch.setattr(pdfs, "ANSWER_WITHIN_SECONDS", 0.5)
    assert refused(paper()).code == "file_broken"


def test_one_is_looked_through_at_a_time_and_who_waits_too_long_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdfs, "_RUNS", [sys.executable, "-c", "import time; time.sleep(1.5); print('nothing', end='')"])
    with ThreadPoolExecutor(2) as pool:
        began = time.monotonic()
        list(pool.map(pdfs.check_pdf, [paper(), paper()]))
        assert time.monotonic() - began >= 3
        monkeypatch.setattr(pdfs, "_WAIT_SECONDS", 0.1)
        first, second = (pool.submit(pdfs.check_pdf, paper()) for _ in range(2))
        told = [one.exception() for one in (first, second) if one.exception() is not None]
    assert [(type(one), one.code) for one in told] == [(Conflict, "files_busy")]
    assert "busy" in told[0].message and "try again" in told[0].message


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([*ACTS.values(), *PLAIN.values()]),
    st.lists(st.tuples(st.integers(0, 5000), st.binary(max_size=6)), min_size=1),
)
def test_any_damage_is_a_word_and_never_a_fall(change: Callable[[PdfWriter], None], damage: list[tuple[int, bytes]]) -> None:
    content = bytearray(paper(change=change))
    for place, bytes_put in damage:
        content[place % len(content) : place % len(content) + len(bytes_put)] = bytes_put
    assert pdf_actions.look_through(bytes(content)) in pdf_actions.FOUND


def test_the_papers_of_these_tests_are_whole() -> None:
    """Else they would be refused for another reason than what stands in them."""
    for change in (*ACTS.values(), *HOLDS_FILES.values(), *PLAIN.values()):
        assert len(PdfReader(BytesIO(paper(change=change)), strict=True).pages) == 1
