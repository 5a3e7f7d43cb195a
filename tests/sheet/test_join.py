"""A fold-out scanned in parts is one sheet: joined to the pixel, told in one line when the parts do not belong together."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.errors import ConventionsWrong, PageUnreadable
from digitize.legend.conventions import conventions_from
from digitize.legend.conventions_text import conventions_text
from digitize.sheet.join import join
from digitize.sheet.mapping import SheetMapping, as_matrix
from digitize.sheet.part_mapping import PartOfSheet
from digitize.sheet.parts import flat_page, gathered, has_whole_frame, joined_parts, may_be_a_part, parts_proposed
from digitize.sheet.register import overlap_of
from digitize.sheet.sources import find_scans, load_pixels
from digitize.sheet.state import Scan, SheetHints
from fixtures.parts import Cut, drawn_sheet, scanned

TWO = (Cut(0.0, 0.6, 0.4), Cut(0.45, 1.0, -1.1, gain=0.8, offset=25))
THREE = (
    Cut(0.0, 0.42),
    Cut(0.33, 0.72, 1.6, gain=0.9, scale=1.02, stretch=1.004),
    Cut(0.63, 1.0, -0.7, gain=0.8, offset=30, scale=0.98),
)
UPSIDE_DOWN = (Cut(0.0, 0.6), Cut(0.4, 1.0, 180.0, gain=0.9, tilt=0.01))


def laid(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    return cv2.perspectiveTransform(points[None].astype(np.float64), matrix)[0]


def off_by(cuts: tuple[Cut, ...], order: tuple[int, ...]) -> tuple[float, float]:
    """(median, worst) px by which points of the overlaps come out in the wrong place of a part after joining."""
    sheet = drawn_sheet()
    parts = [scanned(sheet, c) for c in cuts]
    joined = join([parts[k][0] for k in order], [(f"part{k}.png", 0) for k in order], "sheet")
    first = np.linalg.inv(np.array(joined.parts[0].matrix)) @ parts[order[0]][1]  # sheet px → px of the joined picture
    wrong = []
    for place, k in enumerate(order):
        for a, b in pairwise(sorted((cuts[k].start, cuts[k].end, *(c.start for c in cuts), *(c.end for c in cuts)))):
            both = [c for c in cuts if c.start <= a and b <= c.end]
            if len(both) < 2 or cuts[k] not in both or b - a < 0.02:
                continue
            xs, ys = np.meshgrid(np.linspace(a, b, 8) * (sheet.shape[1] - 1), np.linspace(0.1, 0.9, 8) * sheet.shape[0])
            points = np.column_stack([xs.ravel(), ys.ravel()])
            found = laid(np.array(joined.parts[place].matrix) @ first, points)
            wrong.append(np.hypot(*(found - laid(parts[k][1], points)).T))
    every = np.concatenate(wrong)
    return float(np.median(every)), float(every.max())


@pytest.mark.parametrize("cuts", [TWO, THREE, UPSIDE_DOWN], ids=["two", "three", "upside down"])
def test_parts_at_other_angles_scales_and_exposures_meet_within_a_pixel_or_two(cuts: tuple[Cut, ...]):
    median, worst = off_by(cuts, tuple(range(len(cuts))))
    assert median < 0.7
    assert worst < 2.5  # 0.2 mm at 300 dpi, half a pen's width


def test_the_order_of_the_parts_does_not_matter():
    median, worst = off_by(THREE, (2, 0, 1))
    assert median < 0.8
    assert worst < 3.0


def test_the_joined_picture_is_the_sheet_with_one_brightness_and_no_line_twice():
    sheet = drawn_sheet()
    parts = [scanned(sheet, c) for c in TWO]
    joined = join([p for p, _ in parts], [("a.png", 0), ("b.png", 0)], "sheet")
    to_joined = np.linalg.inv(np.array(joined.parts[0].matrix)) @ parts[0][1]
    back = cv2.warpPerspective(joined.grey, np.linalg.inv(to_joined), sheet.shape[::-1], borderValue=250)
    inner = np.s_[30:-30, 30:-30]
    blurred = [cv2.GaussianBlur(p[inner], (0, 0), 1.5).astype(float) for p in (sheet, back)]
    assert np.corrcoef(blurred[0].ravel(), blurred[1].ravel())[0, 1] > 0.98
    paper = sheet[inner] == 250
    left, right = (blurred[1][:, half][paper[:, half]] for half in (np.s_[:600], np.s_[-600:]))
    assert abs(np.median(left) - np.median(right)) <= 4
    ink = (float((p[inner] < 128).mean()) for p in (sheet, back))
    assert next(ink) == pytest.approx(next(ink), rel=0.08)


def test_parts_that_do_not_overlap_are_told_in_one_line():
    sheet = drawn_sheet()
    parts = [scanned(sheet, c)[0] for c in (Cut(0.0, 0.45), Cut(0.5, 1.0))]
    with pytest.raises(PageUnreadable) as told:
        join(parts, [("left.png", 0), ("right.png", 0)], "page_07")
    assert "page_07: right.png does not overlap left.png" in told.value.what
    assert "\n" not in str(told.value)


def test_two_pages_of_one_manual_do_not_overlap_though_their_frames_are_alike():
    assert overlap_of(drawn_sheet(seed=1), drawn_sheet(seed=2)) is None


@pytest.mark.parametrize("blank", [np.full((400, 600), 255, np.uint8), np.zeros((400, 600), np.uint8)])
def test_blank_pages_overlap_nothing(blank: np.ndarray):
    assert overlap_of(blank, blank) is None


small = st.floats(-0.05, 0.05)


@settings(deadline=None, max_examples=100)
@given(
    st.tuples(small, small, st.floats(-500, 500), st.floats(-500, 500), st.floats(-1e-5, 1e-5), st.floats(-1e-5, 1e-5)),
    st.lists(st.tuples(st.floats(0, 420), st.floats(0, 297)), min_size=1, max_size=9),
)
def test_the_way_from_the_sheet_to_each_parts_pixels_and_back_is_exact(
    m: tuple[float, ...], points: list[tuple[float, float]]
):
    mapping = SheetMapping(as_matrix(np.array([[11.8, 0.1, 30], [-0.1, 11.8, 40], [1e-6, -2e-6, 1.0]])))
    part = PartOfSheet(
        "a.png",
        0,
        3000,
        3500,
        as_matrix(np.array([[1 + m[0], m[1], m[2]], [-m[1], 1 - m[0], m[3]], [m[4], m[5], 1.0]])),
    )
    at = np.array(points)
    assert part.to_sheet(mapping, part.to_part(mapping, at)) == pytest.approx(at, abs=1e-6)


# --- files ------------------------------------------------------------------------------------------------------------


def pages(folder: Path, names: tuple[str, ...]) -> tuple[Scan, ...]:
    sheet = drawn_sheet()
    folder.mkdir(exist_ok=True)
    cuts = iter(TWO * 3)
    for name in names:
        cv2.imwrite(str(folder / name), scanned(sheet, next(cuts))[0])
    return find_scans(folder, "invented")[0]


@pytest.mark.parametrize(
    "names", [("w_part1.png", "w_part2.png"), ("w part 1.png", "w part 2.png"), ("w-Part1.png", "w-Part2.png")]
)
def test_pages_named_as_parts_become_one_sheet_at_the_place_of_the_first(tmp_path: Path, names: tuple[str, ...]):
    scans = pages(tmp_path / "in", ("a.png", *names, "z.png"))
    joined, failed = gathered(scans, {}, tmp_path)
    assert [s.sheet for s in joined] == ["a", "w", "z"]
    assert failed == ()
    assert [Path(p).name for p in joined[1].parts] == list(names)
    again, _ = gathered(scans, {}, tmp_path)
    assert again == joined  # the same bytes, so that nothing is read again
    assert hashlib.sha256(Path(joined[1].path).read_bytes()).hexdigest() == joined[1].sha256


def test_a_single_part_and_a_page_of_the_same_name_stay_what_they_are(tmp_path: Path):
    scans = pages(tmp_path / "in", ("spare_part1.png", "w.png", "w_part1.png", "w_part2.png"))
    joined, _ = gathered(scans, {}, tmp_path)
    assert [s.sheet for s in joined] == ["spare_part1", "w", "w-2"]


def test_parts_stated_in_the_conventions_are_joined_and_a_missing_one_is_told(tmp_path: Path):
    scans = pages(tmp_path / "in", ("left.png", "right.png"))
    stated = conventions_from('[[joined]]\nsheet = "main"\nparts = ["left.png", "right.png"]\n')
    assert conventions_from(conventions_text(stated)) == stated
    joined, failed = gathered(scans, {j.sheet: j.parts for j in stated.joined}, tmp_path)
    assert ([s.sheet for s in joined], failed) == (["main"], ())
    joined, failed = gathered(scans, {"main": ("left.png", "gone.png")}, tmp_path)
    assert [s.sheet for s in joined] == ["left", "right"]
    assert "gone.png is not among the pages" in failed[0].error.what


def test_a_part_listed_twice_is_a_fault_of_the_conventions():
    with pytest.raises(ConventionsWrong, match="more than once"):
        conventions_from(
            '[[joined]]\nsheet = "a"\nparts = ["x.png", "y.png"]\n[[joined]]\nsheet = "b"\nparts = ["x.png", "z.png"]\n'
        )


def test_a_joined_sheet_is_flat_has_its_frame_and_leads_to_the_ink_on_each_part(tmp_path: Path):
    scans = pages(tmp_path / "in", ("w_part1.png", "w_part2.png"))
    (scan,), _ = gathered(scans, {}, tmp_path)
    sheet = flat_page(scan, SheetHints(page_width=228.6, page_height=127.0))
    assert sheet.facts.frame is not None
    assert [p.file for p in sheet.facts.parts] == ["w_part1.png", "w_part2.png"]
    pictures = [load_pixels(s) for s in scans]
    frame = sheet.facts.frame
    seen = 0
    for point in ((frame.x0, 40.0), (frame.x0, 90.0), (frame.x1, 40.0), (frame.x1, 90.0), (frame.centre[0], frame.y0)):
        for part, picture in zip(sheet.facts.parts, pictures, strict=True):
            if part.shows(sheet.facts.mapping, point):
                x, y = part.to_part(sheet.facts.mapping, np.array([point]))[0]
                near = picture[max(0, round(y) - 4) : round(y) + 5, max(0, round(x) - 4) : round(x) + 5]
                assert near.min() < 110  # the frame's line is there
                seen += 1
    assert seen >= 5


def test_a_part_of_a_sheet_shows_no_whole_frame_and_the_joined_sheet_does(tmp_path: Path):
    scans = pages(tmp_path / "in", ("w_part1.png", "w_part2.png"))
    joined, _ = gathered(scans, {}, tmp_path)
    facts = [flat_page(s, SheetHints()).facts for s in (*scans, *joined)]
    assert [has_whole_frame(f) for f in facts] == [False, False, True]
    assert [may_be_a_part(f) for f in facts] == [True, True, False]
    assert not may_be_a_part(replace(facts[0], kind="chart"))


def test_neighbours_that_overlap_are_proposed_as_parts_and_others_are_not(tmp_path: Path):
    scans = pages(tmp_path / "in", ("p1.png", "p2.png", "p3.png"))[:2]
    (line,) = parts_proposed(scans, {"p1", "p2"})
    assert "p1_part1.png" in line
    assert "\n" not in line
    assert parts_proposed(scans, {"p1"}) == []


def test_a_damaged_file_of_parts_is_a_page_that_cannot_be_read(tmp_path: Path):
    bad = tmp_path / "w.parts"
    bad.write_bytes(b"no archive")
    with pytest.raises(PageUnreadable):
        joined_parts(bad)
