"""The fault sheet in print: cautions first, what was told, the check with its scan, suspects with what they make it read."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from digitize.commands_fault import show_fault
from digitize.errors import CalledWrongly, PartMissing
from digitize.harness.claim import Claim
from digitize.harness.model import SheetPath
from digitize.harness.place import Box
from digitize.store.manual import Manual
from digitize.trace.advice import Advice, Told, advise
from digitize.trace.fault_html import fault_html
from digitize.trace.fault_pdf import fault_pdf
from digitize.trace.follow import Circuits
from digitize.trace.network import Positions
from digitize.trace.typed import told_from

from . import circuits as c

TOLD = Told(
    dark=("side lamp",), works=("plate lamp",), volts=(("s1", 12.3),), joined=(("k@1.b1", "body", False),),
    lengths=(("L2A 18 GRN", 3.0),),
)  # fmt: skip


def grey_png(sheet: str, box: Box) -> bytes:
    out = io.BytesIO()
    Image.new("L", (max(1, round(box.width)), max(1, round(box.height))), 200).save(out, "PNG")
    return out.getvalue()


def no_scan(sheet: str, box: Box) -> None:
    return None


def advice(told: Told = TOLD, h=None) -> Advice:
    h = h or c.lit_lamp()
    drawn = tuple(replace(w, paths=(SheetPath("p1", ((1.0, 2.0), (30.0, 2.0))),)) for w in h.wires)
    return advise(Circuits(replace(h, wires=drawn)), told, Positions())


def words_of_pdf(made: bytes) -> tuple[str, tuple[int, int]]:
    document = pypdfium2.PdfDocument(made)
    try:
        size = tuple(round(v) for v in document[0].get_size())
        text = ""
        for page in document:
            textpage = page.get_textpage()
            text += textpage.get_text_range() + "\n"
            textpage.close()
            page.close()
    finally:
        document.close()
    return " ".join(text.split()), (size[0], size[1])


def in_order(text: str, *said: str) -> bool:
    places = [text.find(s) for s in said]
    return -1 not in places and places == sorted(places)


ORDER = (
    "Disconnect the battery",
    "What was told",
    "The next check",
    "Set the meter to DC volts",
    "It read:",
    "likeliest first",
)


def test_cautions_then_what_was_told_then_the_check_then_the_suspects():
    page = fault_html(advice(), grey_png)
    assert in_order(
        page, "<h1>Looking for a fault: side lamp", *ORDER, "Figures to compare with", "Rights: my own copy"
    )
    assert "a splice - page WD-1, zone C6 reads 12.3 V against the body" in page  # no id where the page has a name
    assert "no continuity between connector K14, cavity A" in page


def test_the_check_shows_its_scan_with_the_wire_and_a_ring_around_the_point():
    page = fault_html(advice(), grey_png)
    assert page.count("<figure>") == 1
    assert 'class="way-line"' in page
    assert 'class="ring"' in page
    assert "<figure>" not in fault_html(advice(), no_scan)
    assert "http" not in page.replace("http://www.w3.org", "")
    assert "<script" not in page


def test_every_suspect_says_what_the_meter_reads_if_it_is_the_one():
    told = advice()
    page = fault_html(told, grey_png)
    table = page[page.index("likeliest first") :]
    rows = table[: table.index("</table>")].split("<tr>")[2:]
    assert len(rows) >= 3
    known = [r for r in rows if "something else" not in r]
    assert all(" V, " in r for r in known)
    assert any("live" in r for r in known)
    assert any("dead" in r for r in known)


def test_names_on_a_page_cannot_become_markup():
    h = c.lit_lamp()
    evil = tuple(replace(p, name=Claim("<b>LAMP</b>", 0.9)) if p.id == "lamp" else p for p in h.components)
    page = fault_html(advice(Told(dark=("lamp",)), replace(h, components=evil)), no_scan)
    assert "<b>LAMP" not in page
    assert "&lt;b&gt;LAMP" in page
    assert fault_pdf(advice(Told(dark=("lamp",)), replace(h, components=evil)), no_scan).startswith(b"%PDF")


@pytest.mark.parametrize(("paper", "size", "css"), [("a4", (595, 842), "A4"), ("letter", (612, 792), "letter")])
def test_it_prints_on_either_paper_with_the_same_content(paper: str, size: tuple[int, int], css: str) -> None:
    assert f"size: {css} portrait" in fault_html(advice(), grey_png, paper)
    words, made = words_of_pdf(fault_pdf(advice(), grey_png, paper))
    assert made == size
    assert in_order(words, "Looking for a fault: side lamp", *ORDER, "Figures to compare with", "Rights: my own copy")


def test_without_a_further_check_the_place_of_the_likeliest_fault_is_shown():
    settled = replace(advice(Told(dark=("side lamp",), volts=(("k@1.a1", 12.3), ("k@1.b1", 0.0)))), check=None)
    page = fault_html(settled, grey_png)
    assert "inspect the first ones" in page
    assert page.count("<figure>") == 1
    assert "page WD-1, zone B3</figcaption>" in page  # where K14 is drawn
    assert "the check reads" not in page
    assert "inspect the first ones" in words_of_pdf(fault_pdf(settled, grey_png))[0]


def test_nothing_is_concluded_from_a_lamp_that_nothing_could_light():
    dark = advise(Circuits(c.lit_lamp()), Told(dark=("side lamp",)), Positions(off=frozenset({"sw"})))
    page = fault_html(dark, grey_png)
    assert "Nothing can be concluded yet" in page
    assert "likeliest first" not in page
    assert "Nothing can be concluded yet" in words_of_pdf(fault_pdf(dark, grey_png))[0]


def test_without_reportlab_the_pdf_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import builtins

    real = builtins.__import__

    def missing(name: str, *rest, **more):
        if name.startswith("reportlab"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(PartMissing, match="reportlab"):
        fault_pdf(advice(), no_scan)


def test_the_command_writes_both_kinds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "small.manual"
    with Manual.create(path, "invented for tests") as made:
        made.save_harness(c.lit_lamp())
    told = told_from(dark=["side lamp"])
    for name in ("out.html", "out.pdf"):
        show_fault(path, told, sheet=tmp_path / name, paper="letter")
        assert "Written" in capsys.readouterr().out
    assert "next check" in (tmp_path / "out.html").read_text(encoding="utf-8")
    assert (tmp_path / "out.pdf").read_bytes().startswith(b"%PDF")
    with pytest.raises(CalledWrongly, match=r"\.html or \.pdf"):
        show_fault(path, told, sheet=tmp_path / "out.doc")
    with pytest.raises(CalledWrongly, match="a4, letter"):
        show_fault(path, told, sheet=tmp_path / "out.pdf", paper="foolscap")
