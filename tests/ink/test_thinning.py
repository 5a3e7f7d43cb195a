"""Promises of thinning. Outside check: OpenCV's ximgproc, which looks at every pixel in every pass."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from digitize.ink.thinning import thin


def of_opencv(ink: np.ndarray) -> np.ndarray:
    return np.asarray(cv2.ximgproc.thinning(ink, thinningType=cv2.ximgproc.THINNING_GUOHALL))


@given(
    arrays(np.uint8, st.tuples(st.integers(3, 14), st.integers(3, 14)), elements=st.sampled_from([0, 255])),
    st.integers(1, 4),
)
@settings(deadline=None, max_examples=150)
def test_thinned_ink_is_what_looking_at_every_pixel_gives(cells, scale):
    ink = np.kron(cells, np.ones((scale, scale), np.uint8)).astype(np.uint8)
    assert (thin(ink) == of_opencv(ink)).all()


def test_a_thick_cross_becomes_lines_of_one_pixel():
    ink = np.zeros((41, 41), np.uint8)
    ink[18:23, :] = 255
    ink[:, 17:24] = 255
    thinned = thin(ink)
    assert (thinned == of_opencv(ink)).all()
    assert (thinned[5:12] > 0).sum(axis=1).tolist() == [1] * 7


def test_paper_stays_paper():
    assert not thin(np.zeros((20, 30), np.uint8)).any()
