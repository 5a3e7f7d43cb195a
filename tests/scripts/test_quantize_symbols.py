"""Promises: an eight-bit copy says what its net says, and the net that is shipped is such a copy."""

from importlib import resources

import numpy as np
import onnxruntime
import pytest


def said(path, picture: np.ndarray) -> np.ndarray:
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    return np.asarray(session.run(["symbols"], {"ink": picture})[0])


def small_net(path) -> None:
    from onnx import TensorProto, helper, numpy_helper, save

    rng = np.random.default_rng(2)
    shapes = {"w1": (8, 1, 3, 3), "w2": (8, 8, 3, 3), "w3": (8, 8, 3, 3), "w4": (4, 8, 1, 1), "w5": (2, 8, 1, 1)}
    weights = [
        numpy_helper.from_array((rng.normal(size=s) / np.sqrt(np.prod(s[1:]))).astype(np.float32), name)
        for name, s in shapes.items()
    ]
    steps = (
        ("ink", "w1", "a"),
        ("a_on", "w2", "b"),
        ("b_on", "w3", "c"),
        ("c_on", "w4", "symbols"),
        ("c_on", "w5", "areas"),
    )
    nodes = []
    for source, weight, out in steps:
        side = 0 if weight in ("w4", "w5") else 1
        nodes.append(helper.make_node("Conv", [source, weight], [out], name=weight, pads=[side] * 4))
        if side:
            nodes.append(helper.make_node("Relu", [out], [f"{out}_on"], name=f"{out}_on"))
    ends = [("ink", 1), ("symbols", 4), ("areas", 2)]
    values = [helper.make_tensor_value_info(n, TensorProto.FLOAT, [1, c, "h", "w"]) for n, c in ends]
    graph = helper.make_graph(nodes, "small", values[:1], values[1:], weights)
    save(helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8), str(path))


def test_the_small_copy_says_what_the_net_says(tmp_path):
    pytest.importorskip("onnx", reason="only training needs it")
    from fixtures.training.patch import make_piece
    from scripts.quantize_symbols import quantized

    small_net(tmp_path / "net.onnx")
    quantized(tmp_path / "net.onnx", tmp_path / "small.onnx", 4, 5)
    picture = (1.0 - make_piece(77, 64.0).picture[::2, ::2].astype(np.float32) / 255.0)[None, None]
    plain, small = said(tmp_path / "net.onnx", picture), said(tmp_path / "small.onnx", picture)
    assert np.abs(plain - small).max() < 0.08 * np.ptp(plain)


def test_the_net_that_is_shipped_is_an_eight_bit_copy():
    file = resources.files("digitize.ink") / "weights" / "symbols.onnx"
    assert b"QuantizeLinear" in file.read_bytes()
    assert len(file.read_bytes()) < 2_000_000
