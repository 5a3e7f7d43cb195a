"""Promises of runs and patches. Outside check: OpenCV's own labelling of connected components."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from digitize.sheet.runs import patches_of, runs_at, runs_of, stretches

PICTURES = arrays(np.uint8, st.tuples(st.integers(1, 18), st.integers(1, 18)), elements=st.sampled_from([0, 255]))


def picture(*rows: str) -> np.ndarray:
    return np.array([[255 if c == "#" else 0 for c in row] for row in rows], np.uint8)


def test_a_row_is_its_runs():
    runs = runs_of(picture("##.#", "....", ".###"))
    assert list(zip(runs.row, runs.start, runs.stop, strict=True)) == [(0, 0, 2), (0, 3, 4), (2, 1, 4)]
    assert runs.spots().tolist() == [0, 1, 3, 9, 10, 11]


def test_patches_that_touch_by_a_corner_are_one_and_the_page_does_not_wrap_round():
    patches = patches_of(runs_of(picture("#..#", ".#..", "...#", "...#", "#...")))
    assert patches.area.tolist() == [2, 1, 2, 1]
    assert list(zip(patches.x0, patches.y0, patches.x1, patches.y1, strict=True)) == [
        (0, 0, 2, 2),
        (3, 0, 4, 1),
        (3, 2, 4, 4),
        (0, 4, 1, 5),
    ]
    assert patches.crop(0).tolist() == [[1, 0], [0, 1]]


def test_only_the_long_runs_are_a_line():
    runs = runs_of(picture("#####", "#....", "##..#"))
    assert (runs.only(runs.length >= 4).drawn() == picture("#####", ".....", ".....")).all()


def test_an_empty_picture_has_no_patches():
    assert len(patches_of(runs_of(np.zeros((4, 5), np.uint8)))) == 0


@given(PICTURES)
@settings(deadline=None, max_examples=150)
def test_patches_are_those_of_an_independent_labelling(ink):
    runs = runs_of(ink)
    assert (runs.drawn() == ink).all()
    patches = patches_of(runs)
    count, label, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    assert len(patches) == count - 1
    for k, spots in enumerate(patches.spots()):
        theirs = np.unique(label.ravel()[spots])
        assert len(theirs) == 1
        ours = patches.x0[k], patches.y0[k], patches.width[k], patches.height[k], patches.area[k]
        assert tuple(map(int, ours)) == tuple(map(int, stats[theirs[0]]))
        assert int(patches.crop(k).sum()) == len(spots)


@given(PICTURES)
@settings(deadline=None, max_examples=80)
def test_the_runs_of_single_pixels_are_those_of_their_picture(ink):
    runs, other = runs_of(ink), runs_at(ink.shape, *np.nonzero(ink))
    assert [v.tolist() for v in (runs.row, runs.start, runs.stop)] == [
        v.tolist() for v in (other.row, other.start, other.stop)
    ]


def test_a_line_is_its_stretches_of_ink():
    assert stretches(picture("##.#..###")[0] > 0) == [(0, 2), (3, 4), (6, 9)]
    assert stretches(np.zeros(4, np.bool_)) == []
