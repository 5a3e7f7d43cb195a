"""The box of a lone dash is that of its stroke, to parts of a pixel."""

import cv2
import numpy as np
import pytest

from digitize.ink.lettering_box import tight_box


def dash(top, foot, left=20.0, right=36.0, blur=0.7, fine=8):
    """A grey page of 40 x 60 px with a dash drawn ``fine`` times finer, so that its edges lie between pixels."""
    large = np.full((40 * fine, 60 * fine), 255, np.uint8)
    large[round(top * fine) : round(foot * fine), round(left * fine) : round(right * fine)] = 0
    small = cv2.resize(large, (60, 40), interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small, (0, 0), blur)


@pytest.mark.parametrize(("top", "foot"), [(15.0, 18.0), (15.4, 18.6), (15.25, 19.5)])
def test_the_edges_of_a_dash_are_found_to_a_third_of_a_pixel(top, foot):
    found = tight_box(dash(top, foot), (18.0, 13.0, 38.0, 21.0))
    assert found == pytest.approx((20.0, top, 36.0, foot), abs=0.35)


def test_other_marks_keep_their_box():
    grey = dash(5, 30)
    assert tight_box(grey, (18.0, 5.0, 38.0, 30.0)) == (18.0, 5.0, 38.0, 30.0)
    upright = dash(5, 12, left=20, right=23)
    assert tight_box(upright, (20.0, 5.0, 23.0, 12.0)) == (20.0, 5.0, 23.0, 12.0)


def test_a_mark_without_edges_keeps_its_box():
    assert tight_box(np.full((40, 60), 200, np.uint8), (18.0, 13.0, 38.0, 18.0)) == (18.0, 13.0, 38.0, 18.0)
