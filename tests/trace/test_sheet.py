"""The printable sheet: self-contained, cautions first, the scan beside every hop, on either paper."""

from __future__ import annotations

import base64
import builtins
import io
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from digitize.commands_ask import show_trace
from digitize.errors import CalledWrongly, PartMissing
from digitize.harness.claim import Claim
from digitize.harness.model import SheetPath
from digitize.harness.place import Box
from digitize.store.crops import PX_PER_MM, ScanCrops
from digitize.trace.follow import Circuits
from digitize.trace.sheet_html import sheet_html
from digitize.trace.sheet_pdf import PdfPen, sheet_pdf
from digitize.trace.strip import LARGEST, View, views_of
from fixtures.small_harness import small_harness

from . import circuits as c


def grey_png(sheet: str, box: Box) -> bytes:
    out = io.BytesIO()
    Image.new("L", (max(1, round(box.width)), max(1, round(box.height))), 200).save(out, "PNG")
    return out.getvalue()


def no_scan(sheet: str, box: Box) -> None:
    return None


def html(asked: str = "side lamp", harness=None, crop=grey_png, **more) -> str:
    circuits = Circuits(harness or c.lit_lamp())
    return sheet_html(circuits.trace(asked), circuits.network, crop, **more)


class Tags(HTMLParser):
    """Every tag opened must be closed, in order; every address must be inside the file."""

    void = frozenset({"meta", "image", "polyline"})

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.addresses: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in {"href", "src"}]
        if tag not in self.void:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag in self.void:
            return
        assert self.open.pop() == tag


def test_the_sheet_is_one_sound_file_that_fetches_nothing():
    page = html()
    tags = Tags()
    tags.feed(page)
    assert tags.open == []
    assert tags.addresses
    assert all(a.startswith("data:image/png;base64,") for a in tags.addresses)
    assert "<script" not in page


def test_cautions_stand_before_the_strip():
    page = html()
    assert page.index("Disconnect the battery") < page.index('class="strip"')


def test_every_hop_has_its_scan_its_code_and_its_mark():
    page = html()
    assert page.count('class="hop"') == 6 + 2 + 1
    assert page.count("check on the page") >= 9
    for said in (
        "L2A 18 GRN",
        "cavity A; sits: BEHIND LEFT LAMP, front",
        "parts here: L2B 18 BLU to PLATE LAMP",
        "Rights: my own copy",
    ):
        assert said in page
    assert page.count("<figure>") >= 9
    assert "<figure>" not in html(crop=no_scan)


@pytest.mark.parametrize(("paper", "said"), [("a4", "size: A4 portrait"), ("letter", "size: letter portrait")])
def test_it_prints_on_a4_and_letter(paper: str, said: str) -> None:
    assert said in html(paper=paper)


def test_printed_names_cannot_become_markup():
    h = c.lit_lamp()
    parts = tuple(
        replace(p, name=Claim('<img src=x onerror="a()">&', 0.9)) if p.id == "lamp" else p for p in h.components
    )
    page = html("lamp", replace(h, components=parts))
    assert "<img" not in page
    assert "&lt;img" in page


def test_a_short_wire_is_shown_whole_and_highlighted_a_long_one_at_its_ends():
    h = c.lit_lamp()
    short, long = ((10.0, 10.0), (40.0, 20.0)), ((10.0, 10.0), (390.0, 270.0))
    for points, shown in ((short, 1), (long, 2)):
        wires = tuple(replace(w, paths=(SheetPath("p1", points),)) if w.id == "w2" else w for w in h.wires)
        circuits = Circuits(replace(h, wires=wires))
        leg = next(x for w in circuits.trace("side lamp").ways for x in w.legs if x.id == "w2")
        views = views_of(circuits.network, leg)
        assert len(views) == shown
        assert all(v.highlight == (points,) for v in views)
        assert all(v.box.width <= LARGEST[0] + 1e-9 and v.box.height <= LARGEST[1] + 1e-9 for v in views)
        assert any(v.box.holds(points[0]) for v in views)
        assert any(v.box.holds(points[-1]) for v in views)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_pdf_has_the_same_content_on_the_paper_asked_for(paper: str, size: tuple[int, int]) -> None:
    circuits = Circuits(c.lit_lamp())
    made = sheet_pdf(circuits.trace("side lamp"), circuits.network, grey_png, paper)
    document = pypdfium2.PdfDocument(made)
    try:
        assert tuple(round(v) for v in document[0].get_size()) == size
        text = ""
        for page in document:
            textpage = page.get_textpage()
            text += textpage.get_text_range() + "\n"
            textpage.close()
            page.close()
    finally:
        document.close()
    words = " ".join(text.split())
    assert words.index("Disconnect the battery") < words.index("To its feed")
    for said in ("L2A 18 GRN", "check on the page", "sits: BEHIND LEFT LAMP, front", "Rights: my own copy"):
        assert said in words


def test_pictures_stand_side_by_side_as_far_as_the_paper_is_wide():
    pen = PdfPen(186.0)
    view = View("p1", Box(10, 10, 68, 44), "page 1")
    assert [len(pen.pictures((view,) * n, grey_png)) for n in (0, 1, 2, 3)] == [0, 1, 1, 2]
    wide = View("p1", Box(0, 0, 190, 46), "page 1")
    [row] = pen.pictures((wide,), grey_png)
    assert row.wrap(186.0 * 72 / 25.4, 1000)[0] <= 186.0 * 72 / 25.4, "shrunk to the paper"


def test_without_reportlab_the_pdf_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def missing(name: str, *rest, **more):
        if name.startswith("reportlab"):
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", missing)
    circuits = Circuits(c.lit_lamp())
    with pytest.raises(PartMissing, match="reportlab") as caught:
        sheet_pdf(circuits.trace("side lamp"), circuits.network, no_scan)
    assert caught.value.exit_code == 8


def test_crops_come_flat_out_of_the_kept_scans(small_manual) -> None:
    crops = ScanCrops(small_manual)
    png = crops("page_01", Box(60, 20, 90, 40))
    assert png is not None
    picture = np.asarray(Image.open(io.BytesIO(png)))
    assert picture.shape == (round(20 * PX_PER_MM), round(30 * PX_PER_MM))
    assert picture.min() < 120, "the fuse's outline stands there"
    outside = crops("page_01", Box(-40, -40, -10, -10))
    assert outside is not None
    assert np.asarray(Image.open(io.BytesIO(outside))).min() == 255
    assert crops("no such page", Box(0, 0, 10, 10)) is None


def test_the_command_writes_both_kinds(small_manual, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = small_manual.path
    small_manual.close()
    for name in ("out.html", "out.pdf"):
        show_trace(path, "lampL", as_json=False, sheet=tmp_path / name)
        assert "Written" in capsys.readouterr().out
    data = re.search(r"base64,([^\"]+)", (tmp_path / "out.html").read_text())
    assert data is not None
    assert Image.open(io.BytesIO(base64.b64decode(data[1]))).size[0] > 100
    assert (tmp_path / "out.pdf").read_bytes().startswith(b"%PDF")
    with pytest.raises(CalledWrongly, match=r"\.html or \.pdf"):
        show_trace(path, "lampL", as_json=False, sheet=tmp_path / "out.doc")
    with pytest.raises(CalledWrongly, match="a4, letter"):
        show_trace(path, "lampL", as_json=False, sheet=tmp_path / "out.html", paper="foolscap")
    with pytest.raises(CalledWrongly, match="cannot be written"):
        show_trace(path, "lampL", as_json=False, sheet=tmp_path / "nowhere" / "out.html")


@pytest.fixture
def small_manual(tmp_path: Path):
    from digitize.store.manual import Manual
    from fixtures.small_manual import build_manual

    with Manual.open(build_manual(tmp_path)) as manual:
        assert manual.reviewed().harness.components == small_harness().components
        yield manual
