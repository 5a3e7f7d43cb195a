"""The first reader: our own small network for drawing lettering, run on the CPU by onnxruntime."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnxruntime
from numpy.typing import NDArray

from digitize.errors import PartMissing
from digitize.reading.alphabet import BLANK, WIDTH
from digitize.reading.crops import contrast
from digitize.reading.decode import greedy
from digitize.reading.engines import Frames, Grey, Sighting

HEIGHT = 40
"""Rows of the network's input, px; a crop with its usual margins has capitals of about 28."""

STEP = 4
"""Columns of the input for each frame of the output."""

WEIGHTS = Path(__file__).parent / "weights" / "lettering-3.onnx"
CARD = Path(__file__).parent / "weights" / "MODEL_CARD.md"

_LOW, _SPAN = -0.3, 1.6
PAPER = round(-_LOW / _SPAN * 255)
"""The byte that stands for paper in a packed input."""

_FAINTEST = PAPER + round(0.3 / _SPAN * 255)
"""A crop whose darkest byte is below this holds paper only (``crops.contrast`` never stretches less than 25 grey levels)."""

_NARROWEST = 24
_WIDEST = 2400
_BATCH_PIXELS = 40 * 160 * 10
"""Input pixels of one run: small batches stay in a core's cache, about 0.9 ms a crop against 1.4 with large ones."""


def network_input(crop: Grey) -> NDArray[np.uint8]:
    """``crop`` scaled to HEIGHT rows, contrast evened, packed to bytes: 0..255 stands for -0.3..1.3 (paper 0, ink 1)."""
    height, width = crop.shape
    columns = min(_WIDEST, max(_NARROWEST, round(width * HEIGHT / height)))
    way = cv2.INTER_AREA if height > HEIGHT else cv2.INTER_LINEAR
    small = np.asarray(cv2.resize(crop, (columns, HEIGHT), interpolation=way))
    return np.round((contrast(small) - _LOW) * (255 / _SPAN)).astype(np.uint8)


def values_of(packed: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Packed bytes (any shape) as what they stand for: -0.3..1.3, paper near 0, ink near 1."""
    return packed.astype(np.float32) * np.float32(_SPAN / 255) + np.float32(_LOW)


class Lettering:
    """The network; ``version`` is the number in the file's name. Crops are batched by width, all of a page in few runs."""

    def __init__(self, weights: Path = WEIGHTS) -> None:
        """Load ``weights``. Raises PartMissing when the file is not there."""
        if not weights.is_file():
            raise PartMissing(f"{weights} is missing: the recogniser cannot start.", "Reinstall digitize.")
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        self._session: Any = onnxruntime.InferenceSession(str(weights), options, providers=["CPUExecutionProvider"])
        self.version = weights.stem.rsplit("-", 1)[1]

    @property
    def name(self) -> str:
        """Name and version for the provenance."""
        return f"lettering-{self.version}"

    def read(self, crops: Sequence[Grey]) -> list[Sighting]:
        """Read all ``crops``; the probability is that of the best path."""
        return [
            Sighting(greedy(frames), float(np.exp(frames.max(axis=1).sum())), frames) for frames in self.frames(crops)
        ]

    def frames(self, crops: Sequence[Grey]) -> list[Frames]:
        """The network's log probabilities for each crop, (T, WIDTH)."""
        inputs = [network_input(c) for c in crops]
        order = sorted(range(len(inputs)), key=lambda i: inputs[i].shape[1])
        out: list[Frames] = [np.zeros((0, WIDTH), dtype=np.float32)] * len(inputs)
        start = 0
        while start < len(order):
            stop = start + 1
            while stop < len(order) and HEIGHT * inputs[order[stop]].shape[1] * (stop + 1 - start) <= _BATCH_PIXELS:
                stop += 1
            group = order[start:stop]
            for i, frames in zip(group, self._run([inputs[i] for i in group]), strict=True):
                out[i] = frames
            start = stop
        return out

    def _run(self, inputs: list[NDArray[np.uint8]]) -> list[Frames]:
        width = -(-max(i.shape[1] for i in inputs) // 16) * 16
        batch = np.full((len(inputs), 1, HEIGHT, width), PAPER, dtype=np.uint8)
        for row, picture in enumerate(inputs):
            batch[row, 0, :, : picture.shape[1]] = picture
        (result,) = self._session.run(None, {"crops": values_of(batch)})
        return [
            result[i, : -(-p.shape[1] // STEP)] if int(p.max()) >= _FAINTEST else _nothing(p.shape[1])
            for i, p in enumerate(inputs)
        ]


def _nothing(columns: int) -> Frames:
    """Frames that say that nothing is printed."""
    frames = np.full((-(-columns // STEP), WIDTH), -20.0, dtype=np.float32)
    frames[:, BLANK] = 0.0
    return frames


def sha256_of(path: Path) -> str:
    """Hex digest of a file; the card names that of the weights."""
    return hashlib.sha256(path.read_bytes()).hexdigest()
