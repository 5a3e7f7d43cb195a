"""Promises of thickness. Outside check: OpenCV's distance transform of the whole picture."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from digitize.ink import thickness
from digitize.ink.thickness import thickness_of


@given(
    arrays(np.uint8, st.tuples(st.integers(2, 14), st.integers(2, 14)), elements=st.sampled_from([0, 255, 255])),
    st.floats(0.5, 3.0),
)
@settings(deadline=None, max_examples=100)
def test_thickness_is_the_distance_to_the_paper(ink, least):
    ink[0, 0] = 0
    whole = cv2.distanceTransform(ink, cv2.DIST_L2, 5)
    measured = thickness_of(ink)
    assert (measured.at(np.flatnonzero(ink)) == whole[ink > 0]).all()
    assert (measured.part(slice(1, 40), slice(0, 5)) == whole[1:40, 0:5]).all()
    assert (measured.thick(least).drawn() == np.where(whole >= least, 255, 0)).all()


def test_strips_make_no_difference(monkeypatch):
    rng = np.random.default_rng(5)
    ink = np.where(cv2.GaussianBlur(rng.random((400, 60)), (0, 0), 4) > 0.5, 255, 0).astype(np.uint8)
    whole = thickness_of(ink)
    monkeypatch.setattr(thickness, "_STRIP_ROWS", 70)
    monkeypatch.setattr(thickness, "_MARGIN", 40)
    assert (thickness_of(ink).values == whole.values).all()
