"""Promise: the eight-bit copy of the symbol net says what the net says."""

import numpy as np
import pytest

from digitize.ink import symbols


def test_the_small_copy_sees_the_same_symbols(tmp_path):
    pytest.importorskip("onnx", reason="only training needs it")
    from importlib import resources

    import onnxruntime

    from fixtures.training.patch import make_piece
    from scripts.quantize_symbols import quantized

    weights = resources.files("digitize.ink") / "weights" / "symbols.onnx"
    quantized(weights, tmp_path / "small.onnx", 8, 5)
    assert (tmp_path / "small.onnx").stat().st_size < 2_000_000
    picture = 1.0 - make_piece(77, 64.0).picture[::2, ::2].astype(np.float32) / 255.0
    small = onnxruntime.InferenceSession(str(tmp_path / "small.onnx"), providers=["CPUExecutionProvider"])
    chances = [
        1 / (1 + np.exp(-net.run(None, {"ink": picture[None, None]})[0][0, :30])) for net in (symbols._session(), small)
    ]
    off = np.abs(chances[0] - chances[1])
    assert np.quantile(off, 0.9999) < 0.15
    assert off.mean() < 0.003
