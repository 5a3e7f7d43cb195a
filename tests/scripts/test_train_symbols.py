"""``scripts/train_symbols --tiny`` goes all the way: pieces, losses that fall, a file that runs. Needs torch (group train)."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import onnxruntime
import pytest

from digitize.ink.state import SYMBOL_KINDS
from fixtures.training.patch import make_piece

PROJECT = Path(__file__).parent.parent.parent

torch = pytest.importorskip(
    "torch", reason="training needs torch, which running digitize does not", exc_type=ImportError
)


@pytest.mark.slow
def test_training_learns_and_writes_a_net_that_runs(tmp_path: Path) -> None:
    out = tmp_path / "tiny.onnx"
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", str(PROJECT / "scripts" / "train_symbols"), "--tiny", "--out", str(out)],
        capture_output=True, text=True, check=True, timeout=900, cwd=PROJECT,
    )  # fmt: skip
    first, last = (float(v) for v in re.search(r"loss ([\d.]+) -> ([\d.]+)", ran.stdout).groups())
    assert last < 0.8 * first
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    net = onnxruntime.InferenceSession(str(out), options, providers=["CPUExecutionProvider"])
    symbols, areas = net.run(None, {"ink": np.zeros((1, 1, 96, 160), np.float32)})
    assert symbols.shape == (1, len(SYMBOL_KINDS) + 12, 24, 40)
    assert areas.shape == (1, 8, 48, 80)


def test_training_goes_on_from_the_shipped_net_as_it_is() -> None:
    from scripts.symbol_net import SymbolNet, start_from

    shipped = PROJECT / "digitize" / "ink" / "weights" / "symbols.onnx"
    seen = torch.from_numpy(
        np.stack(
            [
                1 - cv2.resize(make_piece(k).picture, (384, 384), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
                for k in range(6)
            ]
        )[:, None]
    )
    net = SymbolNet()
    start_from(net, shipped, seen[:4])
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    session = onnxruntime.InferenceSession(str(shipped), options, providers=["CPUExecutionProvider"])
    told = session.run(None, {"ink": seen[4:].numpy()})
    with torch.no_grad():
        got = net.eval()(seen[4:])
        trained = net.train()(seen)
    kinds = len(SYMBOL_KINDS)
    for theirs, ours, unsettled in (
        (1 / (1 + np.exp(-told[0][:, :kinds])), got[0][:, :kinds], trained[0][4:, :kinds]),
        (told[1] / 255.0, got[1], trained[1][4:]),
    ):
        one, two, three = theirs, *(1 / (1 + np.exp(-np.asarray(v))) for v in (ours, unsettled))
        assert np.abs(one - two).mean() < 0.002  # what is between the layers is rounded to bytes in the one
        assert np.abs(one - three).mean() < 0.01  # norms that measure themselves upset nothing
