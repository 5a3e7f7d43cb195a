"""A sheet made flat once more, from its scan and the facts that are kept of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.sheet.light import even_out, ink_level_of, ink_of
from digitize.sheet.state import PX_PER_MM, Sheet, SheetFacts
from digitize.sheet.warp import flat_picture, warp

_COARSE = 4.0


def flat_again(facts: SheetFacts, grey: NDArray[np.uint8]) -> Sheet:
    """The sheet of a scan (uint8 (H, W)) through the mapping in ``facts``, without finding anything anew.

    Like what ``flatten`` gave but for slivers of the dark surround along the paper's edge, which are left.
    """
    even = even_out(flat_picture(grey, facts.mapping, facts.width, facts.height), PX_PER_MM)
    coarse = warp(grey, np.array(facts.mapping.matrix), facts.width, facts.height, _COARSE)
    return Sheet(facts, even, ink_of(even, PX_PER_MM, ink_level_of(even_out(coarse, _COARSE))))
