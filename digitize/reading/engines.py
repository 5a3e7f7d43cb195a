"""What every reader of lettering must do, whichever engine is behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
"""An upright crop, uint8 (H, W): paper light, ink dark, one line of lettering that reads left to right."""

Frames = NDArray[np.float32]
"""(T, alphabet.WIDTH) natural-log probabilities; each row sums to 1 in the linear domain."""


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """What one reader saw in one crop.

    Attributes:
        text: its best reading in the alphabet of ``alphabet.CHARACTERS``; empty when it saw nothing.
        probability: the reader's own, uncalibrated, confidence in ``text``, 0..1.
        frames: its probabilities from left to right, to be decoded along a grammar; a reader that only reports a
            string spreads it over the characters it is easily taken for (``confusions.frames_of``).
    """

    text: str
    probability: float
    frames: Frames


class Reader(Protocol):
    """A reader of single lines."""

    @property
    def name(self) -> str:
        """Name and version for the provenance, e.g. ``lettering-1`` or ``tesseract-5.3.0``."""
        ...

    def read(self, crops: Sequence[Grey]) -> list[Sighting]:
        """Read all ``crops``; one sighting each, in the same order."""
        ...
