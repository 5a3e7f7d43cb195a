"""The training script, very small: it gathers, trains, ships, calibrates and writes the card."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from digitize.reading.calibrate import Calibration
from digitize.reading.lettering import WEIGHTS as SHIPPED
from digitize.reading.lettering import sha256_of

PROJECT = Path(__file__).parents[2]
PYTHON = os.environ.get("READER_TRAINING_PYTHON", sys.executable)
"""A Python with torch and onnx; that of the tests where it has them."""


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [PYTHON, str(PROJECT / "scripts" / "train_reader"), *map(str, arguments)],
        check=False,
        capture_output=True,
        text=True,
        timeout=900,
    )


def test_faces_must_be_gathered_first(tmp_path: Path) -> None:
    done = run("--faces", tmp_path / "none.npz", "--tiny")
    assert done.returncode == 2
    assert "--gather" in done.stderr


with_torch = pytest.mark.skipif(
    sys.executable == PYTHON and find_spec("torch") is None,
    reason="no torch here; READER_TRAINING_PYTHON may name a Python that has it",
)


@pytest.mark.slow
@with_torch
def test_the_shipped_network_can_be_trained_on(tmp_path: Path) -> None:
    script = tmp_path / "compare.py"
    script.write_text(f"""
import sys; sys.path.insert(0, {str(PROJECT)!r})
import copy, numpy, onnxruntime, torch
from digitize.reading.lettering import WEIGHTS
from scripts.reader_training.eight_bit import rounding, unrounded
from scripts.reader_training.shipped import net_of_onnx
sample = torch.rand(8, 1, 40, 160, generator=torch.Generator().manual_seed(5)) ** 4
net = net_of_onnx(WEIGHTS, sample)
(said,) = onnxruntime.InferenceSession(str(WEIGHTS)).run(None, {{"crops": sample.numpy()}})
rounded = rounding(copy.deepcopy(net))
with torch.no_grad():
    rounded.train()(sample)  # it learns what passes between its layers
    print(numpy.abs(numpy.exp(net(sample).numpy()) - numpy.exp(said)).mean())
    print((rounded.eval()(sample).exp() - net(sample).exp()).abs().mean().item())
    print((net.train()(sample).exp() - net.eval()(sample).exp()).abs().mean().item())
    print((unrounded(rounded, net)(sample).exp() - net(sample).exp()).abs().mean().item())
""")
    done = subprocess.run([PYTHON, str(script)], check=True, capture_output=True, text=True, timeout=300)
    apart, rounded, in_training, back = map(float, done.stdout.split())
    assert apart < 2e-3, "it answers as the shipped one does, which rounds what passes between its layers"
    assert 0 < rounded < 2e-3, "rounding in training is that small, too"
    assert in_training < 0.02, "and it answers nearly so while batch norms use what they see"
    assert back < 0.02, "what was trained while it rounded can be taken out again"


@pytest.mark.slow
@with_torch
def test_the_mean_of_two_networks_lies_between_them(tmp_path: Path) -> None:
    script = tmp_path / "mean.py"
    script.write_text(f"""
import sys; sys.path.insert(0, {str(PROJECT)!r})
from pathlib import Path
import torch
from digitize.reading.alphabet import WIDTH
from scripts.reader_training.net import LetteringNet
from scripts.reader_training.ship import averaged
paths = [Path({str(tmp_path)!r}, name) for name in ("a.pt", "b.pt")]
a, b = LetteringNet(WIDTH), LetteringNet(WIDTH)
for net, path in zip((a, b), paths):
    torch.save(net.state_dict(), path)
mean = averaged({{paths[0]: 3.0, paths[1]: 1.0}})
print((mean.out.weight - 0.75 * a.out.weight - 0.25 * b.out.weight).abs().max().item())
""")
    done = subprocess.run([PYTHON, str(script)], check=True, capture_output=True, text=True, timeout=300)
    assert float(done.stdout) < 1e-6


@pytest.mark.slow
@with_torch
@pytest.mark.parametrize("bits", [(), ("--eight-bit",)], ids=["as trained", "eight bits"])
def test_a_tiny_training_run_ships_a_reader(tmp_path: Path, bits: tuple[str, ...]) -> None:
    (tmp_path / "fonts").mkdir()
    faces = tmp_path / "faces.npz"
    gathered = run("--gather", tmp_path / "fonts", "--faces", faces)
    assert gathered.returncode == 0, gathered.stderr
    assert "7 faces" in gathered.stdout  # the Hershey ones; no font file is needed for this
    done = run("--faces", faces, "--tiny", *bits, "--out", tmp_path / "net", "--to", tmp_path / "weights")
    assert done.returncode == 0, done.stderr
    weights = tmp_path / "weights" / SHIPPED.name
    assert sha256_of(weights) in (tmp_path / "weights" / "MODEL_CARD.md").read_text(encoding="utf-8")
    assert Calibration.load(tmp_path / "weights" / "calibration.json").chance("digits", 0.5) < 1
    losses = [row["loss"] for row in json.loads((tmp_path / "net" / "log.json").read_text())]
    assert losses[-1] < losses[0]
    assert (weights.stat().st_size < 350_000) == bool(bits), "bytes take less room"
