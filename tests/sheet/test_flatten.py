"""A page laid askew, photographed at an angle, badly lit or without a frame comes out flat, with its millimetres right."""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np
import pytest
from pydantic import TypeAdapter

from digitize.errors import PageUnreadable
from digitize.sheet.flatten import flatten
from digitize.sheet.state import PX_PER_MM, SheetFacts, SheetHints

SIZE = SheetHints(page_width=210.0, page_height=148.5)


def frame_corners(facts: SheetFacts) -> np.ndarray:
    box = facts.frame
    assert box is not None
    return np.array([[box.x0, box.y0], [box.x1, box.y0], [box.x1, box.y1], [box.x0, box.y1]])


def true_corners(page, matrix=None) -> np.ndarray:
    x0, y0, x1, y1 = page.frame
    px = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) * page.per_mm
    return px if matrix is None else cv2.perspectiveTransform(px[None], matrix)[0]


def test_a_clean_page_keeps_its_millimetres(draw_page, scan_of) -> None:
    page = draw_page()
    sheet = flatten(scan_of(200.0), page.grey)
    assert sheet.facts.width == pytest.approx(210, abs=0.3)
    assert sheet.facts.dpi == pytest.approx(200, abs=0.5)
    assert sheet.facts.dpi_stated
    assert np.abs(frame_corners(sheet.facts) - np.array([[14, 14], [196, 14], [196, 130], [14, 130]])).max() < 0.15
    assert (
        sheet.grey.shape
        == sheet.ink.shape
        == (round(sheet.facts.height * PX_PER_MM), round(sheet.facts.width * PX_PER_MM))
    )
    assert set(np.unique(sheet.ink)) <= {0, 255}


@pytest.mark.parametrize("degrees", [-6.0, -1.3, 0.4, 3.0])
def test_a_page_without_visible_edges_is_set_straight(draw_page, scan_of, turned, degrees: float) -> None:
    page = draw_page()
    sheet = flatten(scan_of(200.0), turned(page.grey, degrees), SIZE)
    box = sheet.facts.frame
    assert box is not None
    assert box.width == pytest.approx(182, abs=0.5)
    assert box.height == pytest.approx(116, abs=0.5)
    row = sheet.ink[round(box.y0 * PX_PER_MM), round((box.x0 + 5) * PX_PER_MM) : round((box.x1 - 5) * PX_PER_MM)]
    assert (row > 0).mean() > 0.97


@pytest.mark.parametrize("bed", [12, 205])
def test_a_page_askew_on_the_bed_is_cut_out_and_straightened(draw_page, scan_of, on_bed, bed: int) -> None:
    page = draw_page(frame=(14.0, 14.0, 196.0, 130.0))
    h, w = page.grey.shape
    corners = [(45.0, 30.0), (w + 20.0, 52.0), (w + 5.0, h + 40.0), (25.0, h + 12.0)]
    scan, matrix = on_bed(page.grey, corners, (w + 80, h + 80), bed)
    sheet = flatten(scan_of(), scan, SIZE)
    back = sheet.facts.mapping.to_scan(frame_corners(sheet.facts))
    assert np.abs(back - true_corners(page, matrix)).max() < 2.5  # px of a 200 dpi scan: 0.3 mm
    assert np.abs(frame_corners(sheet.facts) - np.array([[14, 14], [196, 14], [196, 130], [14, 130]])).max() < 0.8
    edge = np.concatenate([sheet.ink[:, :20].ravel(), sheet.ink[:20, :].ravel()])
    assert (edge > 0).mean() < 0.01  # nothing of the bed is taken for ink


def test_a_photo_at_an_angle_is_squared_by_the_frame(draw_page, scan_of, on_bed) -> None:
    page = draw_page()
    h, w = page.grey.shape
    corners = [(70.0, 60.0), (w - 30.0, 20.0), (w + 40.0, h + 30.0), (10.0, h - 25.0)]
    scan, matrix = on_bed(page.grey, corners, (w + 90, h + 90), 15)
    sheet = flatten(scan_of(), scan, SIZE)
    middle = np.array([[100.0, 80.0], [60.0, 40.0], [180.0, 120.0]])
    truth = cv2.perspectiveTransform((middle * page.per_mm)[None], matrix)[0]
    assert np.abs(sheet.facts.mapping.to_scan(middle) - truth).max() < 8  # 1 mm anywhere on the page


def test_a_page_photographed_on_a_wooden_table_is_cut_out(draw_page, scan_of, on_bed) -> None:
    page = draw_page()
    h, w = page.grey.shape
    corners = [(120.0, 90.0), (w + 40.0, 60.0), (w + 90.0, h + 110.0), (60.0, h + 70.0)]
    scan, matrix = on_bed(page.grey, corners, (w + 200, h + 200), 0)
    grain = cv2.GaussianBlur(np.random.default_rng(4).normal(0, 60, scan.shape), (61, 3), 0) + 120
    table = cv2.warpPerspective(np.zeros_like(page.grey), matrix, (w + 200, h + 200), borderValue=1) > 0
    scan[table] = np.clip(grain, 0, 255).astype(np.uint8)[table]
    facts = flatten(scan_of(), scan, SIZE).facts
    middle = np.array([[105.0, 74.0], [30.0, 30.0], [180.0, 120.0]])
    truth = cv2.perspectiveTransform((middle * page.per_mm)[None], matrix)[0]
    assert np.abs(facts.mapping.to_scan(middle) - truth).max() < 8


@pytest.mark.parametrize("side", ["top", "left"])
def test_a_side_cut_off_by_the_scanner_still_leaves_the_page_straight(draw_page, scan_of, on_bed, side: str) -> None:
    page = draw_page(frame=None)
    h, w = page.grey.shape
    skew = np.tan(np.deg2rad(1.5))
    corners = [
        (40.0 + skew * h, 30.0),
        (w + 40.0 + skew * h, 30.0 + skew * w),
        (w + 40.0, h + 30.0 + skew * w),
        (40.0, h + 30.0),
    ]
    scan, matrix = on_bed(page.grey, corners, (w + 140, h + 120), 15)
    cut = scan[round(30 + skew * w) + 12 :] if side == "top" else scan[:, round(40 + skew * h) + 12 :]
    offset = (0, round(30 + skew * w) + 12) if side == "top" else (round(40 + skew * h) + 12, 0)
    facts = flatten(scan_of(200.0), np.ascontiguousarray(cut)).facts
    ends = cv2.perspectiveTransform((np.array([[40.0, 40.0], [170.0, 40.0]]) * page.per_mm)[None], matrix)[0] - offset
    flat = facts.mapping.to_sheet(ends)
    assert abs(flat[1, 1] - flat[0, 1]) < 0.5


def test_a_curled_page_gets_straight_frame_lines(draw_page, scan_of) -> None:
    page = draw_page()
    h, w = page.grey.shape
    x, y = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    bow = 1.2 * page.per_mm * np.sin(np.pi * x / w)  # 1.2 mm in the middle
    curled = cv2.remap(page.grey, x, y + bow, cv2.INTER_LINEAR, borderValue=235)
    sheet = flatten(scan_of(200.0), curled, SIZE)
    box = sheet.facts.frame
    assert box is not None
    for at in (box.y0, box.y1):
        row = sheet.ink[round(at * PX_PER_MM), round((box.x0 + 5) * PX_PER_MM) : round((box.x1 - 5) * PX_PER_MM)]
        assert (row > 0).mean() > 0.95


def test_uneven_light_and_show_through_are_no_ink(draw_page, scan_of) -> None:
    page = draw_page()
    h, w = page.grey.shape
    clean = flatten(scan_of(200.0), page.grey)
    light = np.linspace(1.0, 0.55, w)[None, :] * np.linspace(1.0, 0.85, h)[:, None]
    behind = cv2.GaussianBlur(page.grey[:, ::-1], (5, 5), 0).astype(float)
    shone = page.grey * (1 - 0.14 * (235 - behind) / 210) * light
    sheet = flatten(scan_of(200.0), shone.astype(np.uint8))
    wrong = (cv2.erode(sheet.ink, np.ones((3, 3))) > 0) & (cv2.dilate(clean.ink, np.ones((7, 7))) == 0)
    lost = (cv2.dilate(sheet.ink, np.ones((7, 7))) == 0) & (clean.ink > 0)
    assert wrong.mean() < 1e-4
    assert lost.sum() / (clean.ink > 0).sum() < 0.01


def test_a_faint_thin_line_survives_beside_a_black_one(scan_of) -> None:
    page = np.full((600, 900), 230, np.uint8)
    page[100:106, 100:800] = 20
    page[120:122, 100:800] = 130  # 0.25 mm at 200 dpi, half as dark, 1.8 mm away
    sheet = flatten(scan_of(200.0), page)
    rows = sheet.ink[:, 3 * 200 : 3 * 300]
    lines = [r for r in range(rows.shape[0]) if (rows[r] > 0).mean() > 0.95]
    groups = 1 + sum(b - a > 3 for a, b in pairwise(lines))
    assert groups == 2


def test_two_close_lines_stay_two(scan_of) -> None:
    page = np.full((600, 900), 230, np.uint8)
    page[100:103, 100:800] = 20
    page[107:110, 100:800] = 20  # a gap of 4 px at 200 dpi: half a millimetre
    sheet = flatten(scan_of(200.0), cv2.GaussianBlur(page, (3, 3), 0))
    column = sheet.ink[:, sheet.ink.shape[1] // 2] > 0
    assert np.count_nonzero(np.diff(column.astype(int)) == 1) == 2


def test_the_cat_has_no_frame_and_is_said_to_be_other(scan_of) -> None:
    rng = np.random.default_rng(3)
    fur = cv2.GaussianBlur(rng.integers(0, 255, (700, 900)).astype(np.uint8), (9, 3), 0)
    shape = cv2.GaussianBlur(rng.integers(0, 255, (700, 900)).astype(np.uint8), (0, 0), 40).astype(float)
    photo = np.clip(fur * 0.8 + (shape - shape.mean()) * 12, 0, 255).astype(np.uint8)
    sheet = flatten(scan_of(), photo)
    assert sheet.facts.frame is None
    assert sheet.facts.zones.nominal
    assert sheet.facts.kind == "other"
    assert sheet.facts.zones_probability <= 0.5


@pytest.mark.parametrize("value", [0, 128, 255])
def test_a_page_of_one_tone_is_flat_and_empty(scan_of, value: int) -> None:
    sheet = flatten(scan_of(), np.full((300, 400), value, np.uint8))
    assert (sheet.ink > 0).mean() < 0.01
    assert sheet.facts.frame is None
    assert sheet.facts.kind == "other"


@pytest.mark.parametrize("shape", [(1, 1), (3, 500), (0, 0)])
def test_a_handful_of_pixels_is_refused_in_one_line(scan_of, shape: tuple[int, int]) -> None:
    with pytest.raises(PageUnreadable, match="pixels"):
        flatten(scan_of(), np.zeros(shape, np.uint8))


def test_a_nonsense_resolution_is_refused_before_memory_is_spent(scan_of) -> None:
    with pytest.raises(PageUnreadable, match="mm on paper"):
        flatten(scan_of(), np.full((3000, 4000), 200, np.uint8), SheetHints(page_width=40000.0, page_height=30000.0))


def test_200_and_600_dpi_give_the_same_sheet(draw_page, scan_of) -> None:
    coarse = flatten(scan_of(200.0), draw_page(dpi=200.0).grey)
    fine = flatten(scan_of(600.0), draw_page(dpi=600.0).grey)
    assert np.abs(frame_corners(coarse.facts) - frame_corners(fine.facts)).max() < 0.2
    h, w = (min(a, b) for a, b in zip(coarse.ink.shape, fine.ink.shape, strict=True))
    lost = (coarse.ink[:h, :w] > 0) & (cv2.dilate(fine.ink, np.ones((9, 9)))[:h, :w] == 0)
    assert lost.sum() < 0.01 * (coarse.ink > 0).sum()


def test_a_double_frame_with_ticks_gives_its_zone_borders(draw_page, scan_of) -> None:
    page = draw_page(double=True, ticks=7)
    hints = SheetHints(across="numbers", down="letters", columns=7, rows=4, continues=True, diagram_number=2)
    sheet = flatten(scan_of(200.0), page.grey, hints)
    assert sheet.facts.border is not None
    assert len(sheet.facts.ticks_across) == 6
    assert [b.label for b in sheet.facts.zones.columns] == [str(n) for n in range(8, 15)]
    assert [b.label for b in sheet.facts.zones.rows] == list("ABCD")
    assert sheet.facts.zones.columns[0].end == pytest.approx(14 + 182 / 7, abs=0.2)
    assert not sheet.facts.zones.nominal


def test_facts_are_saved_and_read_back(draw_page, scan_of) -> None:
    facts = flatten(scan_of(200.0), draw_page().grey).facts
    adapter = TypeAdapter(SheetFacts)
    assert adapter.validate_json(adapter.dump_json(facts)) == facts
