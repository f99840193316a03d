"""Small whole files of each kind that makers attach, and of kinds that are dressed as one."""

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable

from openpyxl import Workbook
from pypdf import PdfWriter
from pypdf.actions import JavaScript


def paper(*, password: str = "", change: Callable[[PdfWriter], None] | None = None) -> bytes:
    """Return a PDF of one empty page, after *change* did something to it."""
    writer, file = PdfWriter(), io.BytesIO()
    writer.add_blank_page(width=595, height=842)
    if change:
        change(writer)
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    writer.write(file)
    return file.getvalue()


def listed(content: bytes) -> bytes:
    """Return a PDF of :func:`paper` that was changed by hand, with its list of objects as they lie now."""
    places = {int(found[1]): found.start(1) for found in re.finditer(rb"(?m)^(\d+) 0 obj", content)}
    begins = content.index(b"\nxref\n") + 1
    head, *_rows = re.split(rb"(?m)^\d{10} \d{5} [nf] *\r?\n", content[begins:])
    tail = content[content.index(b"trailer", begins) :]
    rows = b"0000000000 65535 f \n" + b"".join(b"%010d 00000 n \n" % places[number] for number in sorted(places))
    whole = content[:begins] + head + rows + tail
    return re.sub(rb"startxref\n\d+", b"startxref\n%d" % begins, whole)


def in_root(said: bytes) -> bytes:
    """Return a PDF of one empty page whose root says this too."""
    return listed(paper().replace(b"/Type /Catalog", said + b"/Type /Catalog", 1))


def _runs_script(writer: PdfWriter) -> None:
    writer.add_open_action(JavaScript("app.alert(1)"))


def _holds_program(writer: PdfWriter) -> None:
    writer.add_attachment("start.exe", b"MZ")


PDF = paper()
# Made by hand from their standards: one grey pixel, or as little as tells the kind.
_SCAN = b"\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00"
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00" + _SCAN + bytes(64) + b"\xff\xd9"
HEIC = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic\x00\x00\x00\x0cmeta" + bytes(4) + b"\x00\x00\x00\x40mdat" + bytes(56)
WEBP = b"RIFF" + struct.pack("<I", 20) + b"WEBPVP8 " + struct.pack("<I", 8) + bytes(8)
TEXT = "Säurezahl 0,05\r\n".encode()


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


PNG = (
    b"\x89PNG\r\n\x1a\n"
    + _chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    + _chunk(b"IDAT", zlib.compress(b"\0\x80"))
    + _chunk(b"IEND", b"")
)


def folder(*names: str) -> bytes:
    """Return a packed folder with files of these names."""
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        for name in names:
            packed.writestr(name, "<x/>")
    return file.getvalue()


def sheet() -> bytes:
    """Return a spreadsheet as a spreadsheet program keeps it."""
    book, file = Workbook(), io.BytesIO()
    book.active.append(["lot", "acid value"])
    book.save(file)
    return file.getvalue()


XLSX = sheet()


def sheet_with(name: str, content: bytes, *, kind: str = "", told_in: str = "utf-8") -> bytes:
    """Return the spreadsheet with one more part, and what its list of parts says that this is."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(XLSX)) as plain, zipfile.ZipFile(file, "w") as packed:
        for one in plain.namelist():
            part = plain.read(one)
            if one == "[Content_Types].xml" and kind:
                told = part.decode().replace("</Types>", f'<Override PartName="/{name}" ContentType="{kind}"/></Types>')
                part = told.replace("utf-8", told_in).encode(told_in)
            packed.writestr(one, part)
        # As it stands: the writer would clean the name.
        info = zipfile.ZipInfo("x")
        info.filename = name
        packed.writestr(info, content)
    return file.getvalue()


MACROS = folder("[Content_Types].xml", "xl/workbook.xml", "xl/vbaProject.bin")
JAR = folder("META-INF/MANIFEST.MF", "Main.class")
WEB_PAGE = b"<!DOCTYPE html>\n<html><body><script>fetch('/people/')</script></body></html>"
SVG = b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'></svg>"

# What must not be taken, however it is called: by a word for it, its bytes and what is said.
DRESSED = {
    "a web page": (WEB_PAGE, "file_runs"),
    "a web page behind a mark": (b"\xef\xbb\xbf  \n<HTML><head>", "file_runs"),
    "a web page in UTF-16": ("\ufeff<html><script>1</script>".encode("utf-16-le"), "file_runs"),
    "a script element alone": (b"<script>alert(1)</script>", "file_runs"),
    "a script within a text": (b"acid value 0.05\n<script src=//x></script>", "file_runs"),
    "a drawing": (SVG, "file_runs"),
    "a drawing as XML": (b"<?xml version='1.0'?>\n" + SVG, "file_runs"),
    "a script of a shell": (b"#!/bin/sh\nrm -rf ~\n", "file_runs"),
    "a script of a server": (b"ok <?php system($_GET[0]); ?>", "file_runs"),
    "a program of Windows": (b"MZ\x90\x00\x03\x00\x00\x00\x04\x00", "file_runs"),
    "a program of Linux": (b"\x7fELF\x02\x01\x01\x00", "file_runs"),
    "a program of a Mac": (b"\xcf\xfa\xed\xfe\x07\x00\x00\x01", "file_runs"),
    "a link of Windows": (b"L\x00\x00\x00\x01\x14\x02\x00", "file_runs"),
    "a program with a PDF in it": (b"MZ\x90\x00" + PDF, "file_runs"),
    "a web page with a PDF in it": (b"<html><!--\n" + PDF + b"-->", "file_runs"),
    "a PDF with a web page in its head": (PDF.replace(b"1 0 obj", b"<script>alert(1)</script>\n1 0 obj"), "file_is_two"),
    "a PDF with a packed folder behind it": (PDF + JAR, "file_is_two"),
    "a picture with a packed folder behind it": (JPEG + JAR, "file_is_two"),
    "a picture with a web page in its remark": (b"\xff\xd8\xff\xfe\x00\x30<html><script>1</script>" + JPEG, "file_is_two"),
    "a spreadsheet with a program before it": (b"MZ\x90\x00" + XLSX, "file_runs"),
    "a spreadsheet with something behind it": (XLSX + b"MZ\x90\x00", "file_is_two"),
    "a spreadsheet with macros": (MACROS, "file_runs"),
    "a spreadsheet with macros under another name": (
        sheet_with("xl/theme/other.xml", b"<x/>", kind="application/vnd.ms-office.vbaProject"),
        "file_runs",
    ),
    "the same, its list in wide letters and other words": (
        sheet_with("xl/other.xml", b"<x/>", kind="application/vnd.ms-excel.MACRO&#115;heet+xml", told_in="utf-16"),
        "file_runs",
    ),
    "a spreadsheet with a program in it": (sheet_with("xl/media/image1.png", b"MZ\x90\x00\x03\x00"), "file_runs"),
    "a spreadsheet with a packed thing of an old program": (
        sheet_with("xl/embeddings/oleObject1.bin", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"),
        "file_is_two",
    ),
    "a spreadsheet with a packed folder in it": (sheet_with("xl/media/image1.png", JAR), "file_is_two"),
    "a spreadsheet that unpacks beside itself": (sheet_with("xl/../../evil.xml", b"<x/>"), "file_kind"),
    "a spreadsheet that unpacks beside itself on Windows": (sheet_with("xl/..\\..\\evil.xml", b"<x/>"), "file_kind"),
    "a spreadsheet whose list of parts is none": (
        sheet_with("xl/a.xml", b"<x/>", kind='"><!-- "'),
        "file_broken",
    ),
    "a packed program": (JAR, "file_kind"),
    "a packed folder that says it is a spreadsheet": (
        folder("[Content_Types].xml", "xl/workbook.xml", "META-INF/MANIFEST.MF", "Main.class"),
        "file_kind",
    ),
    "a letter with macros": (folder("[Content_Types].xml", "word/document.xml"), "file_kind"),
    "a program that says it is a picture of a phone": (b"MZ\x90\x00ftypheic" + bytes(64), "file_broken"),
    "a script that says so": (b"#!/sftypmif1\n\n\n\nheic\nrm -rf ~\n" + bytes(64), "file_broken"),
    "a web page that says so": (b"<!--ftypmif1    heic--><b>x</b>", "file_broken"),
    "a picture with a folder of another packer behind it": (JPEG + b"Rar!\x1a\x07\x01\x00" + bytes(64), "file_is_two"),
    "a PDF with one in it": (PDF[:9] + b"7z\xbc\xaf\x27\x1c" + PDF[9:], "file_is_two"),
    "the first bytes of a photograph": (b"\xff\xd8\xff", "file_broken"),
    "a text behind the first bytes of a photograph": (b"\xff\xd8\xff" + b"GET / HTTP/1.1 " * 40, "file_broken"),
    "a photograph cut short": (JPEG[:-2], "file_broken"),
    "a picture of a phone cut short": (HEIC[:-1], "file_broken"),
    "the two ends of a picture": (PNG[:8] + PNG[-8:], "file_broken"),
    "two ends and a program between": (PNG[:8] + b"\x7fELF" * 40 + PNG[-8:], "file_broken"),
    "a PDF that runs a script": (paper(change=_runs_script), "file_runs"),
    "a PDF with a program in it as a file": (paper(change=_holds_program), "file_is_two"),
    "a PDF that is locked": (paper(password="a password"), "file_broken"),
    "a PDF without pages": (PDF.replace(b"/Kids [ 4 0 R ]", b"/Kids [ 9 0 R ]"), "file_broken"),
    "a PDF cut short": (PDF[:40], "file_broken"),
    "a picture cut short": (PNG[:40], "file_broken"),
    "an old spreadsheet": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(64), "file_kind"),
    "a GIF": (b"GIF89a\x01\x00\x01\x00\x00", "file_kind"),
    "noise": (bytes(range(256)), "file_kind"),
    "a mark and nothing else": (b"\xff\xfe", "file_kind"),
}
