"""The reader's convolutions with bytes: trained as they will run, then written so.

The convolutions take two thirds of the reader's time; with bytes they take less than half as long on a processor with a
dot product for them. Weights of seven bits (a scale for each channel), because processors without it would overflow with
eight, and what passes between layers in eight. Scales are fixed, so that no crop changes how the one beside it is
rounded: that is why the LSTM layers, which could only take their scale from what comes, stay as they were. A net that was
merely rounded read 1 in 400 strings worse; one that trains on while it is rounded learns to bear it (Jacob et al., arXiv
1712.05877).
"""

from __future__ import annotations

import copy
import random
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from onnxruntime.quantization import CalibrationDataReader, CalibrationMethod, QuantFormat, QuantType, quantize_static
from onnxruntime.quantization.shape_inference import quant_pre_process
from torch import nn
from torch.nn.utils import parametrize

from digitize.reading.lettering import HEIGHT, PAPER, network_input, values_of
from fixtures.lettering_training.faces import load
from fixtures.lettering_training.samples import sample
from scripts.reader_training.net import LetteringNet, Residual

_FORGET = 1e-3
_SEVEN_BITS = 63


class Rounded(nn.Module):
    """What passes between two layers in 256 steps, from the least to the greatest that lately came by in training."""

    low: torch.Tensor
    high: torch.Tensor

    def __init__(self) -> None:
        super().__init__()
        self.register_buffer("low", torch.zeros(()))
        self.register_buffer("high", torch.zeros(()))

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """``x`` rounded; the gradient passes where nothing was cut off."""
        if self.training:
            least, most = torch.aminmax(x.detach().float())
            self.low.copy_(torch.minimum(least, self.low + _FORGET * (least - self.low)).clamp(max=0))
            self.high.copy_(torch.maximum(most, self.high + _FORGET * (most - self.high)).clamp(min=0))
        scale = ((self.high - self.low) / 255).clamp(min=1e-6)
        zero = torch.round(-self.low / scale).clamp(0, 255).to(torch.int32)
        return torch.fake_quantize_per_tensor_affine(x, scale, zero, 0, 255)


class _Weights(nn.Module):
    """A convolution's weights in seven bits, a scale for each channel out."""

    def forward(self, w: torch.Tensor) -> torch.Tensor:
        scale = (w.detach().abs().amax(dim=(1, 2, 3)) / _SEVEN_BITS).clamp(min=1e-9)
        zero = torch.zeros_like(scale, dtype=torch.int32)
        return torch.fake_quantize_per_channel_affine(w, scale, zero, 0, -_SEVEN_BITS - 1, _SEVEN_BITS)


def rounding(net: LetteringNet) -> LetteringNet:
    """``net`` itself, made to compute as its eight-bit copy will; all but the first convolution."""
    first = True
    for module in list(net.modules()):
        if isinstance(module, nn.Sequential) and isinstance(module[0], nn.Conv2d):
            if not first:
                parametrize.register_parametrization(module[0], "weight", _Weights())
            module.append(Rounded())
            first = False
        elif isinstance(module, Residual):
            module.add_module("rounded", Rounded())
            module.register_forward_hook(_sum_rounded)
    return net


def _sum_rounded(module: nn.Module, _given: tuple[torch.Tensor, ...], out: torch.Tensor) -> torch.Tensor:
    return module.get_submodule("rounded")(out)  # type: ignore[no-any-return]  # torch has no type for a module's answer


def unrounded(net: LetteringNet, like: LetteringNet) -> LetteringNet:
    """The weights of ``net`` (made by ``rounding``) in a copy of ``like``, which was not."""
    plain = copy.deepcopy(like)
    here = {k.replace("parametrizations.weight.original", "weight"): v for k, v in net.state_dict().items()}
    plain.load_state_dict({k: here[k] for k in plain.state_dict()})
    return plain.eval()


class _Crops(CalibrationDataReader):  # type: ignore[misc]  # the library has no types
    """Inputs of the net: generated lettering in the faces of the training, one crop at a time."""

    def __init__(self, faces: Path, count: int, seed: int) -> None:
        self._inputs = self._drawn(faces, count, seed)

    def get_next(self) -> dict[str, Any] | None:
        """The next input, None after the last."""
        return next(self._inputs, None)

    @staticmethod
    def _drawn(faces: Path, count: int, seed: int) -> Iterator[dict[str, Any]]:
        r = random.Random(seed)
        drawn_from = load(faces, "train")
        for _ in range(count):
            picture = network_input(sample(drawn_from, r).crop)
            batch = np.full((1, 1, HEIGHT, -(-picture.shape[1] // 16) * 16), PAPER, dtype=np.uint8)
            batch[0, 0, :, : picture.shape[1]] = picture
            yield {"crops": values_of(batch)}


def quantize(path: Path, faces: Path, count: int = 400, seed: int = 9001) -> None:
    """Put the eight-bit copy of the network at ``path`` in its place; scales by ``count`` generated crops."""
    with tempfile.TemporaryDirectory() as work:
        plain, made = Path(work, "plain.onnx"), Path(work, "made.onnx")
        quant_pre_process(str(path), str(plain), skip_symbolic_shape=True)
        graph = onnx.load(str(plain)).graph
        fixed = {i.name for i in graph.initializer}
        first = next(n.name for n in graph.node if n.op_type == "Conv")
        speaks = [n.name for n in graph.node if n.op_type == "Add" and fixed.intersection(n.input)]
        quantize_static(
            str(plain),
            str(made),
            _Crops(faces, count, seed),
            quant_format=QuantFormat.QDQ,
            op_types_to_quantize=["Conv", "Relu", "Add"],
            per_channel=True,
            activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8,
            reduce_range=True,
            calibrate_method=CalibrationMethod.MinMax,
            nodes_to_exclude=[first, *speaks],
        )
        onnx.save(onnx.load(str(made)), str(path))
