"""Bad input, end to end through the command line: one clear line each, the right exit code, everything else still read."""

from __future__ import annotations

import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from reportlab.lib.pdfencrypt import StandardEncryption
from reportlab.pdfgen.canvas import Canvas

MM = 300 / 25.4


def draw_page(path: Path, *, frame: bool = True) -> None:
    """A small drawing at 300 dpi: a fuse box, a lamp, a wire between them, all boxes and lines; with or without a frame."""
    picture = Image.new("L", (round(200 * MM), round(140 * MM)), 255)
    pen = ImageDraw.Draw(picture)

    def box(x0: float, y0: float, x1: float, y1: float, width: float) -> None:
        pen.rectangle([x0 * MM, y0 * MM, x1 * MM, y1 * MM], outline=0, width=round(width * MM))

    if frame:
        box(8, 8, 192, 132, 0.5)
    box(30, 40, 50, 60, 0.35)
    box(140, 40, 160, 60, 0.35)
    pen.line([50 * MM, 50 * MM, 140 * MM, 50 * MM], fill=0, width=round(0.35 * MM))
    picture.save(path, dpi=(300, 300))


def huge_header(path: Path) -> None:
    """A PNG whose header promises 20000 × 15000 px; its data would unpack to 37 MB of nothing, and is cut off."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 20000, 15000, 1, 0, 0, 0, 0)
    data = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 2501)) + chunk(b"IEND", b"")
    )
    path.write_bytes(data)


def locked_pdf(path: Path) -> None:
    canvas = Canvas(str(path), encrypt=StandardEncryption("secret", ownerPassword="owner"))
    canvas.drawString(100, 100, "a page")
    canvas.save()


@pytest.fixture(scope="module")
def bad_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bad") / "pages"
    folder.mkdir()
    draw_page(folder / "page_01.png")
    draw_page(folder / "page_02_frameless.png", frame=False)
    (folder / "notes.png").write_text("This is no picture.", encoding="utf-8")
    whole = (folder / "page_01.png").read_bytes()
    (folder / "cut.png").write_bytes(whole[: len(whole) // 3])
    (folder / "empty.png").write_bytes(b"")
    locked_pdf(folder / "locked.pdf")
    Image.new("L", (1, 1), 255).save(folder / "dot.png")
    huge_header(folder / "huge.png")
    noise = np.random.default_rng(7).normal(128, 40, (900, 1200, 3)).clip(0, 255).astype(np.uint8)
    Image.fromarray(noise).save(folder / "photo.jpg")
    return folder


@pytest.fixture(scope="module")
def bad_run(bad_folder: Path, digitize):
    return digitize("read", bad_folder, "--into", bad_folder.parent / "bad.manual")


FAULTS = {
    "notes.png": "picture",
    "cut.png": "cut short",
    "empty.png": "empty",
    "locked.pdf": "password",
    "dot.png": "1 × 1",
    "huge.png": "megapixels",
}


@pytest.mark.parametrize(("name", "word"), FAULTS.items())
def test_a_bad_page_gives_one_clear_line_with_what_to_do(bad_run, name: str, word: str) -> None:
    lines = [line for line in bad_run.stderr.splitlines() if name in line]
    assert len(lines) == 1, bad_run.stderr
    assert word in lines[0]
    assert lines[0].rstrip().endswith("."), "a sentence that says what to do stands at the end"
    assert lines[0].count(". ") >= 1, lines[0]


def test_the_exit_code_says_that_some_pages_failed(bad_run) -> None:
    assert bad_run.returncode == 4, bad_run.stderr
    assert "Traceback" not in bad_run.stderr


def test_the_other_pages_are_still_digitized(bad_run, bad_folder: Path, digitize) -> None:
    import json

    told = json.loads(digitize("report", bad_folder.parent / "bad.manual", "--json").stdout)
    read = {page["sheet"] for page in told["pages"] if not page["failed"]}
    assert {"page_01", "page_02_frameless", "photo"} <= read


@pytest.mark.parametrize("name", ["photo", "page_02_frameless"])
def test_a_page_that_is_read_but_strange_is_told(bad_run, name: str) -> None:
    lines = [line for line in bad_run.stderr.splitlines() if name in line]
    assert len(lines) == 1, bad_run.stderr


def test_a_second_call_tries_the_bad_pages_again_and_no_other(bad_run, bad_folder: Path, digitize) -> None:
    again = digitize("read", bad_folder, "--into", bad_folder.parent / "bad.manual")
    assert again.returncode == 4
    assert "3 unchanged" in again.stdout, again.stdout


@pytest.mark.parametrize("kind", ["nothing", "only a note"])
def test_an_empty_folder_says_what_to_give(tmp_path: Path, digitize, kind: str) -> None:
    if kind != "nothing":
        (tmp_path / "README.txt").write_text("pages to come", encoding="utf-8")
    ran = digitize("read", tmp_path)
    assert ran.returncode == 3
    assert ran.stderr.count("\n") == 1
    assert "PNG" in ran.stderr
    assert not list(tmp_path.parent.glob("*.manual")), "nothing was read, so nothing is left behind"


def test_a_folder_that_is_not_there_is_named(tmp_path: Path, digitize) -> None:
    ran = digitize("read", tmp_path / "nowhere")
    assert ran.returncode == 3
    assert "nowhere" in ran.stderr


def test_only_bad_pages_are_nothing_to_read(tmp_path: Path, digitize) -> None:
    (tmp_path / "notes.png").write_text("no picture", encoding="utf-8")
    ran = digitize("read", tmp_path, "--into", tmp_path / "m.manual")
    assert ran.returncode == 3
    assert "notes.png" in ran.stderr


def test_wrong_conventions_are_told_all_at_once_with_their_places(tmp_path: Path, digitize) -> None:
    draw_page(tmp_path / "page_01.png")
    (tmp_path / "conventions.toml").write_text(
        'vehicle = 7\n[zones]\nacross = "sideways"\n[gauges]\nsystem = "inches"\nsise = ["1"]\n', encoding="utf-8"
    )
    ran = digitize("read", tmp_path)
    assert ran.returncode == 5
    for place in ("line 1", "line 3", "line 5", "line 6"):
        assert place in ran.stderr, ran.stderr
    assert not list(tmp_path.parent.glob("*.manual"))


def test_broken_toml_names_its_line(tmp_path: Path, digitize) -> None:
    draw_page(tmp_path / "page_01.png")
    own = tmp_path / "own.toml"
    own.write_text('[colours]\nRED = "red\n', encoding="utf-8")
    ran = digitize("read", tmp_path, "--conventions", own)
    assert ran.returncode == 5
    assert "line 2" in ran.stderr
    assert ran.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (["report", "missing.manual"], 6, "missing.manual"),
        (["trace", "missing.manual", "LAMP"], 6, "missing.manual"),
        (["find", "missing.manual", "LAMP"], 6, "missing.manual"),
        (["export", "missing.manual", "--as", "json", "--to", "-"], 6, "missing.manual"),
        (["read"], 2, "FOLDER"),
        (["nonsense"], 2, "nonsense"),
        (["read", ".", "--set", "colour=red"], 2, "colour"),
        (["export", "missing.manual", "--as", "stone", "--to", "-"], 2, "graphml"),
    ],
    ids=lambda v: " ".join(v) if isinstance(v, list) else None,
)
def test_a_wrong_call_has_its_exit_code(arguments: list[str], code: int, word: str, digitize) -> None:
    ran = digitize(*arguments)
    assert ran.returncode == code, ran.stderr
    assert word in ran.stderr
    assert "Traceback" not in ran.stderr


def test_file_names_that_are_not_utf_8_are_read_kept_and_told(tmp_path: Path, digitize) -> None:
    from fixtures.small_manual import build_manual

    odd = os.fsdecode(b"van \xe9.manual")
    build_manual(tmp_path).rename(tmp_path / odd)
    for command in (("report", tmp_path / odd), ("find", tmp_path, "LAMP")):
        ran = digitize(*command)
        assert ran.returncode == 0, ran.stderr
        assert ran.stdout
    assert "van" in digitize("find", tmp_path, "LAMP").stdout
