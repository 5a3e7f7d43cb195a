"""Zone labels in the margins tell the field where no border is drawn; other numbers on a page do not."""

import pytest

from digitize.harness.place import Box
from digitize.sheet.frame_labels import frame_of_labels

PAGE = (420.0, 297.0)


def label(text, x, y, probability=0.95, high=3.0):
    half = 0.4 * high * len(text)
    return (text, Box(x - half, y - high / 2, x + half, y + high / 2), probability)


def margins(across="1 2 3 4 5 6 7 8", down="A B C D E F"):
    top = [label(t, 42 + 48 * k, 12) for k, t in enumerate(across.split())]
    left = [label(t, 9, 40 + 44 * k) for k, t in enumerate(down.split())]
    return [*top, *left]


def near(box, *wanted):
    return (
        box is not None and max(abs(a - b) for a, b in zip((box.x0, box.y0, box.x1, box.y1), wanted, strict=True)) < 1
    )


@pytest.mark.parametrize(
    ("across", "down"), [("1 2 3 4 5 6 7 8", "A B C D E F"), ("15 16 17 18 19 20 21 22", "E F G H J K"), ("A B C D E F G H", "1 2 3 4 5 6")]
)  # fmt: skip
def test_labels_at_equal_steps_along_two_sides_tell_the_field(across, down):
    assert near(frame_of_labels(margins(across, down), PAGE), 18, 18, 402, 282)


def test_labels_that_are_missing_or_stray_do_no_harm():
    some = [t for t in margins() if t[0] not in {"3", "C"}]
    stray = [label("7", 200, 150), label("4", 300, 10), label("B", 12, 60, probability=0.2)]
    found = frame_of_labels([*some, label("3", 138, 285), label("C", 411, 128), *stray], PAGE)
    assert near(found, 18, 18, 402, 282)


@pytest.mark.parametrize(
    "labels",
    [
        margins()[:8],  # one axis alone
        margins(down="11 12 13 14 15 16"),  # numbers both ways
        [label(str(k), 100 + 13 * k, 20) for k in range(1, 7)] + margins()[8:],  # the pins of a part
        [(t, Box(b.x0 + 150, b.y0 + 100, b.x1 + 150, b.y1 + 100), p) for t, b, p in margins()],  # not in the margins
    ],
    ids=["one", "numbers", "pins", "inside"],
)
def test_what_does_not_divide_the_whole_page_tells_nothing(labels):
    assert frame_of_labels(labels, PAGE) is None
