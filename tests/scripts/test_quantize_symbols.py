"""Promises: an eight-bit copy says what its net says, and the net that is shipped is such a copy."""

from importlib import resources

import numpy as np
import onnxruntime
import pytest


def said(path, picture: np.ndarray, what: str = "symbols") -> np.ndarray:
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    return np.asarray(session.run([what], {"ink": picture})[0])


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
    logits, chances = (said(tmp_path / f"{n}.onnx", picture, "areas") for n in ("net", "small"))
    assert chances.dtype == np.uint8
    assert np.abs(1 / (1 + np.exp(-logits)) - chances / 255.0).max() < 0.05


def test_doubling_by_copying_gives_the_bytes_that_resizing_gives(tmp_path):
    """The runtime's own Resize is the reference: the same small net as it was before the step, and after it."""
    onnx = pytest.importorskip("onnx", reason="only training needs it")
    from onnx import TensorProto, helper, numpy_helper

    from scripts.quicken_symbols import quickened

    def net():
        held = {
            "scale": np.array(0.02, np.float32), "zero": np.array(3, np.uint8), "sizes": np.array([1, 1, 2, 2], np.float32),
            "w": np.array([[[[0.5]], [[-1.0]]]], np.float32), "b": np.array([0.25], np.float32),
        }  # fmt: skip
        byte = ["scale", "zero"]
        nodes = [
            helper.make_node("QuantizeLinear", ["ink", *byte], ["q"], name="q"),
            helper.make_node("DequantizeLinear", ["q", *byte], ["d"], name="d"),
            helper.make_node("Resize", ["d", "", "sizes"], ["r"], name="r", mode="nearest", nearest_mode="floor",
                             coordinate_transformation_mode="asymmetric"),
            helper.make_node("QuantizeLinear", ["r", *byte], ["rq"], name="rq"),
            helper.make_node("DequantizeLinear", ["rq", *byte], ["symbols"], name="rd"),
            helper.make_node("Conv", ["symbols", "w", "b"], ["areas"], name="/areas/Conv", kernel_shape=[1, 1]),
        ]  # fmt: skip
        ends = [
            helper.make_tensor_value_info(n, TensorProto.FLOAT, [1, c, None, None])
            for n, c in (("ink", 2), ("symbols", 2), ("areas", 1))
        ]
        graph = helper.make_graph(
            nodes, "doubled", ends[:1], ends[1:], [numpy_helper.from_array(v, k) for k, v in held.items()]
        )
        return helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)

    onnx.save(net(), str(tmp_path / "before.onnx"))
    onnx.save(quickened(net()), str(tmp_path / "after.onnx"))
    picture = np.random.default_rng(4).random((1, 2, 5, 7)).astype(np.float32)
    before, after = (said(tmp_path / f"{n}.onnx", picture) for n in ("before", "after"))
    assert before.shape == (1, 2, 10, 14)
    assert np.array_equal(before, after)
    with pytest.raises(ValueError, match="eight-bit"):
        quickened(onnx.load(str(tmp_path / "after.onnx")))


def test_the_shipped_net_tells_areas_as_bytes():
    file = resources.files("digitize.ink") / "weights" / "symbols.onnx"
    areas = said(file, np.zeros((1, 1, 64, 64), np.float32), "areas")
    assert areas.dtype == np.uint8
    assert areas.max() < 128  # blank paper


def test_the_net_that_is_shipped_is_an_eight_bit_copy():
    file = resources.files("digitize.ink") / "weights" / "symbols.onnx"
    assert b"QuantizeLinear" in file.read_bytes()
    assert len(file.read_bytes()) < 2_000_000
