"""From a trained network to the ONNX file that the program runs."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from pathlib import Path

import onnx
import torch

from digitize.reading.alphabet import WIDTH
from digitize.reading.lettering import HEIGHT
from scripts.reader_training.net import LetteringNet


def load_net(path: Path, *, small: bool = False) -> LetteringNet:
    """The network from a ``net.pt``."""
    net = LetteringNet(WIDTH, small=small)
    net.load_state_dict(torch.load(path, map_location="cpu", weights_only=True))
    return net.eval()


def averaged(shares: Mapping[Path, float]) -> LetteringNet:
    """The mean of several ``net.pt`` of one line of training; ``shares`` are taken as parts of their sum.

    Weights of runs that went on from one another lie in one basin; their mean reads what none of them was trained on a little
    better than each (Wortsman et al., arXiv 2203.05482).
    """
    whole = sum(shares.values())
    states = [(load_net(path).state_dict(), share / whole) for path, share in shares.items()]
    net = LetteringNet(WIDTH)
    net.load_state_dict(
        {
            k: sum(state[k] * share for state, share in states) if v.dtype.is_floating_point else v
            for k, v in states[0][0].items()
        }
    )
    return net.eval()


def ship(net: LetteringNet, path: Path) -> None:
    """Write ``net`` as ONNX: input ``crops`` (n, 1, HEIGHT, w), output ``frames`` (n, w / 4, WIDTH), n and w free."""
    sample = torch.zeros(2, 1, HEIGHT, 96)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        torch.onnx.export(
            net.eval(), (sample,), str(path), input_names=["crops"], output_names=["frames"], opset_version=17, dynamo=False,
            dynamic_axes={"crops": {0: "n", 3: "w"}, "frames": {0: "n", 1: "t"}},
        )  # fmt: skip
    model = onnx.load(str(path))
    onnx.checker.check_model(model)
    del model.metadata_props[:]
    model.doc_string = "Reader of drawing lettering; see MODEL_CARD.md."
    onnx.save(model, str(path))
