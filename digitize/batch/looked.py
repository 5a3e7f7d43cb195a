"""What a first look at a page found that no convention changes, kept in a file of the run's own for the second look.

Flattening, finding lettering, symbols and lines, and the recogniser itself know nothing of a manual's conventions: only
decoding, and all that follows, does. So the second look at a page starts from the marks and from what the readers saw.
"""

from __future__ import annotations

import pickle  # the file is written and read by one run, in a folder that only its user may enter
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.ink.state import Marks
from digitize.reading.readers import Readers
from digitize.reading.remembered import Memory, Remembering

_NO_PIXELS: NDArray[np.uint8] = np.zeros((0, 0), dtype=np.uint8)


@dataclass(frozen=True, slots=True)
class Looked:
    """A page's marks, and what each reader saw in its crops."""

    marks: Marks
    first: Memory
    second: Memory

    def save(self, path: Path) -> None:
        """Write it; pixels as PNG, which loses nothing. Raises OSError."""
        sheet = self.marks.sheet
        bare = replace(self.marks, sheet=replace(sheet, grey=_NO_PIXELS, ink=_NO_PIXELS))
        pixels = [
            cv2.imencode(".png", p, [cv2.IMWRITE_PNG_COMPRESSION, 1])[1].tobytes() for p in (sheet.grey, sheet.ink)
        ]
        path.write_bytes(pickle.dumps((bare, pixels, self.first, self.second)))

    @staticmethod
    def load(path: Path) -> Looked:
        """Read what ``save`` wrote. Raises OSError."""
        bare, pixels, first, second = pickle.loads(path.read_bytes())  # noqa: S301  written by this very run
        grey, ink = (
            np.asarray(cv2.imdecode(np.frombuffer(p, np.uint8), cv2.IMREAD_GRAYSCALE), dtype=np.uint8) for p in pixels
        )
        return Looked(replace(bare, sheet=replace(bare.sheet, grey=grey, ink=ink)), first, second)


def remembering(readers: Readers, first: Memory, second: Memory) -> Readers:
    """The same readers, each with a memory that is asked before it."""
    return replace(
        readers,
        first=Remembering(readers.first, first),
        second=None if readers.second is None else Remembering(readers.second, second),
    )
