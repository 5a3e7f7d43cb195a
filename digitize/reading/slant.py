"""Lettering that leans: freehand capitals of a sheet are stood up before they are read.

The recogniser knows upright letters best. How far a sheet's lettering leans is seen on its stems: under the right shear
(every row shifted in proportion to its height) a stem fills one column of the picture from foot to head. Standing
handwriting up so is common practice in reading it; counting whole columns over all lines of a sheet is our own choice.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.reading.engines import Grey, Sighting
from digitize.sheet.ranked import percentile

_LEANS = np.array([-0.05, 0.0, 0.05, 0.25, 0.35, 0.45, 0.55, 0.65])
"""Shears that are tried, widths per height; letters that lean to the left are not known from drawings."""
_UPRIGHT = _LEANS < 0.16
"""Lettering that leans so little is read as it is."""
_CLEARLY = 1.5
"""So many times as many stems must stand up under a lean as do without one: slashes in codes are not enough."""
_MOST = 0.5
"""Share of a sheet's lines that must have more leaning stems than upright ones."""
_LONG = 2.2
"""A line at least so many times as wide as high has stems enough to tell."""
_FEWEST = 6
"""Fewer long lines say nothing about a sheet."""
_ASKED = 24
"""So many of a sheet's longest lines are enough to tell, in a few milliseconds."""
_BETTER = 1.1
"""Stood up, the lines must be read so many times as surely: serifs and slashes lean without the letters doing so."""
_UNSURE, _FAR_BETTER = 0.45, 1.3
"""Lines whose stems tell no lean are stood up only where the reader believes so little of them as they are, and so many times
as much of them stood up."""
_AS_GOOD = 0.95
"""The lean that the stems tell is taken where the lines are read at least so surely under it as under the best."""
_HEIGHT = 24
"""Height in px of the pictures that are counted."""


def lean_to_read(
    crops: Sequence[Grey], sure: Sequence[float], read: Callable[[Sequence[Grey]], Sequence[Sighting]]
) -> float:
    """The lean under which a sheet is read best, else 0: stems tell that letters lean, the reader how far.

    Small letters have few stems: where the reader is unsure of the lines as they are, it is asked whatever the stems say.

    Args:
        crops: the lines of the sheet that are lettering for sure, cut upright.
        sure: how sure ``read`` is of each as it is, 0..1.
        read: the reader; asked again only when the stems lean, or when it is unsure.
    """
    long = ((c, p) for c, p in zip(crops, sure, strict=True) if _is_long(c))
    asked = heapq.nlargest(_ASKED, long, key=lambda pair: pair[0].shape[1] / pair[0].shape[0])
    if len(asked) < _FEWEST:
        return 0.0
    longest = [c for c, _ in asked]
    as_they_are = sum(p for _, p in asked)
    told = lean_of_sheet(longest)
    if not told and as_they_are > _UNSURE * len(longest):
        return 0.0
    leans = [float(lean) for lean in _LEANS[~_UPRIGHT]]
    stood = [sum(s.probability for s in read(stood_up(longest, lean))) for lean in leans]
    best = int(np.argmax(stood))
    if told and stood[leans.index(told)] >= _AS_GOOD * stood[best]:
        best = leans.index(told)
    return leans[best] if stood[best] >= (_BETTER if told else _FAR_BETTER) * as_they_are else 0.0


def lean_of_sheet(crops: Sequence[Grey]) -> float:
    """How far the lettering of a sheet leans to the right, in widths per height; 0 where it stands upright.

    Args:
        crops: lines of the sheet, cut upright; short ones are not asked.
    """
    long = [c for c in crops if _is_long(c)]
    if len(long) < _FEWEST:
        return 0.0
    stems = np.array([_stems(c) for c in long])
    whole = stems.sum(axis=0)
    best = int(np.argmax(whole))
    leaning = stems[:, best] > stems[:, _UPRIGHT].max(axis=1)
    if whole[best] < _CLEARLY * whole[_UPRIGHT].max() or leaning.mean() < _MOST:
        return 0.0
    return float(_LEANS[best])


def stood_up(crops: Sequence[Grey], lean: float) -> list[Grey]:
    """``crops`` with their letters stood up by ``lean``; a long line that stands upright (a caption in type) is left alone."""
    if not lean:
        return list(crops)
    return [c if _is_long(c) and _stands(c, lean) else sheared(c, lean) for c in crops]


def _is_long(crop: Grey) -> bool:
    return bool(crop.shape[1] >= _LONG * crop.shape[0])


def _stands(crop: Grey, lean: float) -> bool:
    """True when a line has more stems upright than leaning by ``lean``."""
    stems = _stems(crop)
    return bool(stems[_UPRIGHT].max() > stems[np.abs(_LEANS - lean) < 0.11].max())


def _stems(crop: Grey) -> NDArray[np.int64]:
    """For each of ``_LEANS`` how many columns of the stood-up line hold one unbroken stroke as high as its letters."""
    scale = _HEIGHT / crop.shape[0]
    small = cv2.resize(crop, (max(8, round(crop.shape[1] * scale)), _HEIGHT), interpolation=cv2.INTER_AREA)
    light, dark = percentile(small, 85), percentile(small, 2)
    ink = (small < (float(light) + float(dark)) / 2).astype(np.uint8)
    inked = np.nonzero(ink.sum(axis=1) > 0.06 * ink.shape[1])[0]
    high = int(inked[-1] - inked[0]) + 1 if inked.size else _HEIGHT
    counts = []
    for lean in _LEANS:
        up = sheared(ink, float(lean), paper=0)
        length = up.sum(axis=0, dtype=np.int64)
        reach = up.shape[0] - up[::-1].argmax(axis=0) - up.argmax(axis=0)
        counts.append(int(((reach == length) & (length >= 0.7 * high) & (length <= 1.25 * high)).sum()))
    return np.array(counts, dtype=np.int64)


def sheared(crop: Grey, lean: float, paper: int | None = None) -> Grey:
    """``crop`` with every row shifted so that what leans by ``lean`` (to the right) stands; wider by what it leans.

    ``paper``: shade of the corners that come free; None: the edge of the crop goes on.
    """
    height, width = crop.shape
    grow = int(np.ceil(abs(lean) * height))
    shift = np.array([[1.0, lean, 0.0 if lean >= 0 else float(grow)], [0.0, 1.0, 0.0]])
    way = cv2.INTER_LINEAR if paper is None else cv2.INTER_NEAREST
    border = cv2.BORDER_REPLICATE if paper is None else cv2.BORDER_CONSTANT
    out = cv2.warpAffine(crop, shift, (width + grow, height), flags=way, borderMode=border, borderValue=paper or 0)
    return np.asarray(out, dtype=np.uint8)
