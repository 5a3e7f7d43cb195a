# mypy: ignore-errors
# torch is only there where nets are trained
"""A symbol net between an earlier one and one trained on from it: keeps of the old what the new one unlearned.

``python -m scripts.average_symbols EARLIER NEWER OUT.onnx [--share 0.7]``. Both are ``.pt`` or ``.onnx``; ``--share``: how
much of the newer one. The norms are measured on generated pieces that follow from ``--seed``. Needs torch and onnx.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import cv2
import numpy as np
import torch

from fixtures.training.patch import make_piece
from fixtures.training.wear import aged
from scripts.symbol_net import SymbolNet, between, export, start_from


def pictures(count: int, seed: int) -> torch.Tensor:
    """Worn generated pieces as the net sees them, (count, 1, 384, 384), ink 1."""
    drawn = []
    for k in range(seed, seed + count):
        worn = aged(make_piece(k).picture, np.random.default_rng(k))
        drawn.append(1.0 - cv2.resize(worn, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) / 255.0)
    return torch.tensor(np.stack(drawn)[:, None], dtype=torch.float32)


def main() -> int:
    """Read the arguments, average, write."""
    parser = argparse.ArgumentParser(prog="average_symbols", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("earlier", type=Path)
    parser.add_argument("newer", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--share", type=float, default=0.7, help="of the newer one, 0 to 1")
    parser.add_argument("--pieces", type=int, default=48)
    parser.add_argument("--seed", type=int, default=77_000_000)
    given = parser.parse_args()
    seen = pictures(given.pieces, given.seed)
    nets = []
    for path in (given.earlier, given.newer):
        nets.append(SymbolNet())
        start_from(nets[-1], path, seen)
    export(between(nets[0], nets[1], given.share, seen), given.out)
    print(f"{given.out}: {given.share:g} of {given.newer.name}, the rest of {given.earlier.name}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
