"""Makes an eight-bit copy of the trained symbol net: a quarter of the size, and about 1.6 times as fast on one core.

``python -m scripts.quantize_symbols FLOAT.onnx OUT.onnx [--pieces N] [--seed N]``

Weights become signed bytes, a scale for each channel; what passes between layers becomes bytes by the range it has on worn
generated pieces of pages (fixtures/training), which follow from the seed. The first layer and the two layers that speak
stay as they were: they cost little and say most. Then it is written to run sooner (``scripts.quicken_symbols``). Needs the ``onnx`` package of the training group.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnx
from onnxruntime.quantization import CalibrationDataReader, CalibrationMethod, QuantFormat, QuantType, quantize_static
from onnxruntime.quantization.shape_inference import quant_pre_process

from digitize.ink.symbols import NET_PX_PER_MM
from fixtures.training.patch import make_piece
from fixtures.training.wear import aged
from scripts.quicken_symbols import quickened

SIZE_MM = 64.0


class GeneratedPieces(CalibrationDataReader):  # type: ignore[misc]  # the library has no types
    """Inputs of the net from generated pieces, clean and worn."""

    def __init__(self, count: int, seed: int) -> None:
        self._inputs = self._drawn(count, seed)

    def get_next(self) -> dict[str, Any] | None:
        """The next input, None after the last."""
        return next(self._inputs, None)

    @staticmethod
    def _drawn(count: int, seed: int) -> Iterator[dict[str, Any]]:
        rng = np.random.default_rng(seed)
        side = round(SIZE_MM * NET_PX_PER_MM)
        for k in range(count):
            piece = make_piece(seed + k, SIZE_MM).picture
            worn = aged(piece, rng) if k % 3 else piece
            small = cv2.resize(worn, (side, side), interpolation=cv2.INTER_AREA)
            yield {"ink": (1.0 - small.astype(np.float32) / 255.0)[None, None]}


def quantized(weights: Path, out: Path, pieces: int, seed: int) -> None:
    """Write the eight-bit copy of ``weights`` to ``out``."""
    with tempfile.TemporaryDirectory() as work:
        plain = Path(work, "plain.onnx")
        quant_pre_process(str(weights), str(plain), skip_symbolic_shape=True)
        convs = [n.name for n in onnx.load(str(plain)).graph.node if n.op_type == "Conv"]
        speaking = [n.name for n in onnx.load(str(plain)).graph.node if set(n.output) & {"symbols", "areas"}]
        quantize_static(
            str(plain),
            str(out),
            GeneratedPieces(pieces, seed),
            quant_format=QuantFormat.QDQ,
            per_channel=True,
            activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8,
            reduce_range=True,  # seven bits: processors without a dot product for bytes would overflow with eight
            calibrate_method=CalibrationMethod.MinMax,
            nodes_to_exclude=[convs[0], *speaking],
        )
    onnx.save(quickened(onnx.load(str(out))), str(out))


def main() -> int:
    """Read the arguments and write."""
    parser = argparse.ArgumentParser(prog="quantize_symbols", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("weights", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--pieces", type=int, default=48)
    parser.add_argument("--seed", type=int, default=9001)
    given = parser.parse_args()
    quantized(given.weights, given.out, given.pieces, given.seed)
    print(f"{given.out}: {given.out.stat().st_size} bytes")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
