"""An optional further reader: one general OCR network, whose weights come inside an ordinary package.

The package ``rapidocr`` (extra ``second-network``; code Apache-2.0) carries PP-OCRv6's small recogniser; the weights are
Apache-2.0 as well, by the notice ``MODEL_LICENSES.md`` in its wheel. Only the file of weights is used, run by onnxruntime:
nothing of the package is imported, and nothing is ever fetched. It learned from photographs and documents, not from
drawings, so that its mistakes are others than those of our own reader; that is what makes its agreement worth something.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnxruntime
from numpy.typing import NDArray

from digitize.reading.alphabet import BLANK, WIDTH, column, folded
from digitize.reading.decode import greedy
from digitize.reading.engines import Frames, Grey, Sighting

PACKAGE = "rapidocr"
_FILES = "*rec*.onnx"
_ROWS = 48
_BATCH = 8
_LEAST = 1e-9


class GeneralNetwork:
    """A recogniser over a large alphabet; its outputs are folded into ours and what is foreign to it is left out."""

    def __init__(self, weights: Path, release: str) -> None:
        """Load ``weights``; ``release`` is the version of the package. Raises ValueError when it names no characters."""
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        self._session: Any = onnxruntime.InferenceSession(str(weights), options, providers=["CPUExecutionProvider"])
        listed = self._session.get_modelmeta().custom_metadata_map.get("character", "")
        if not listed:
            raise ValueError(f"{weights} does not name its characters")
        self._columns = _columns(listed.split("\n"), int(self._session.get_outputs()[0].shape[-1]))
        self._input = self._session.get_inputs()[0].name
        self.version = f"{release}-{weights.stem}"

    @property
    def name(self) -> str:
        """Name and version for the provenance."""
        return f"{PACKAGE}-{self.version}"

    def read(self, crops: Sequence[Grey]) -> list[Sighting]:
        """Read all ``crops``; the probability is that of the best path."""
        order = sorted(range(len(crops)), key=lambda i: crops[i].shape[1] / crops[i].shape[0])
        out: list[Sighting] = [Sighting("", 0.0, np.zeros((0, WIDTH), np.float32))] * len(crops)
        for start in range(0, len(order), _BATCH):
            group = order[start : start + _BATCH]
            for i, frames in zip(group, self._frames([crops[i] for i in group]), strict=True):
                out[i] = Sighting(greedy(frames), float(np.exp(frames.max(axis=1).sum())), frames)
        return out

    def _frames(self, crops: list[Grey]) -> list[Frames]:
        wide = [max(16, round(c.shape[1] * _ROWS / c.shape[0])) for c in crops]
        batch = np.zeros((len(crops), 3, _ROWS, max(wide)), np.float32)
        for k, (crop, w) in enumerate(zip(crops, wide, strict=True)):
            batch[k, :, :, :w] = np.asarray(cv2.resize(crop, (w, _ROWS)), dtype=np.float32) / np.float32(127.5) - 1
        (said,) = self._session.run(None, {self._input: batch})
        ours = np.stack([said[:, :, columns].sum(axis=2) for columns in self._columns], axis=2) + _LEAST
        frames = np.log(ours / ours.sum(axis=2, keepdims=True)).astype(np.float32)
        share = said.shape[1] / max(wide)
        return [frames[k, : max(1, round(w * share))] for k, w in enumerate(wide)]


def _columns(characters: list[str], outputs: int) -> list[NDArray[np.int64]]:
    """For each column of our alphabet the network's outputs that fold into it; its output 0 is the blank, its last the space."""
    found: list[list[int]] = [[] for _ in range(WIDTH)]
    found[BLANK].append(0)
    for at, character in enumerate(characters, start=1):
        if at >= outputs or len(character) != 1 or not character.isascii():
            continue
        same = folded(character)
        if len(same) == 1:
            found[column(same)].append(at)
    found[column(" ")].append(outputs - 1)
    return [np.array(f, dtype=np.int64) for f in found]


def probe_general_network() -> GeneralNetwork | None:
    """The network of the installed package; None when the package or its weights are not there."""
    found = find_spec(PACKAGE)
    if found is None or found.origin is None:
        return None
    weights = sorted((Path(found.origin).parent / "models").glob(_FILES))
    try:
        return GeneralNetwork(weights[0], version(PACKAGE)) if weights else None
    except (PackageNotFoundError, ValueError):
        return None
