"""``scripts/train_symbols --tiny`` goes all the way: pieces, losses that fall, a file that runs. Needs torch (group train)."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import onnxruntime
import pytest

from digitize.ink.state import SYMBOL_KINDS

PROJECT = Path(__file__).parent.parent.parent

pytest.importorskip("torch", reason="training needs torch, which running digitize does not", exc_type=ImportError)


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
