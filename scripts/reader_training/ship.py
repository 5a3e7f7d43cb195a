"""From a trained network to the ONNX file that the program runs."""

from __future__ import annotations

import warnings
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
