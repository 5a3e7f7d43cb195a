"""The shipped network as one that can be trained on: the weights of its ONNX file, its batch norms unfolded again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from numpy.typing import NDArray
from onnx import numpy_helper
from torch import nn

from digitize.reading.alphabet import WIDTH
from scripts.reader_training.net import LetteringNet

_GATES = (0, 2, 3, 1)
"""ONNX keeps an LSTM's gates as input, output, forget, cell; torch as input, forget, cell, output (both say so)."""


def net_of_onnx(path: Path, sample: torch.Tensor) -> LetteringNet:
    """The network of ``path``, also of an eight-bit file, in evaluation mode; it can be trained on and answers as the file does.

    What an eight-bit file rounds between its layers it does not round (``eight_bit.rounding`` makes it).

    On its way into ONNX every batch norm was folded into the convolution before it. Each is made anew with the mean and the
    spread that ``sample`` (n, 1, 40, w) has there, and a scale and an offset that undo them.

    Raises ValueError when the file is of another network.
    """
    graph = onnx.load(str(path)).graph
    values = {i.name: np.array(numpy_helper.to_array(i)) for i in graph.initializer}
    values |= {
        n.output[0]: _of_bytes(n, values)
        for n in graph.node
        if n.op_type == "DequantizeLinear" and n.input[0] in values
    }
    net = LetteringNet(WIDTH).eval()
    norms = [m for m in net.modules() if isinstance(m, nn.BatchNorm2d)]
    convolutions = [m for m in net.modules() if isinstance(m, nn.Conv2d)]
    folded = [n for n in graph.node if n.op_type == "Conv"]
    recurrent = [n for n in graph.node if n.op_type == "LSTM"]
    if len(folded) != len(convolutions) or len(recurrent) != net.rnn.num_layers:
        raise ValueError(f"{path} holds another network: {len(folded)} convolutions, {len(recurrent)} LSTM layers.")
    with torch.no_grad():
        for node, convolution, norm in zip(folded, convolutions, norms, strict=True):
            convolution.weight.copy_(torch.from_numpy(values[node.input[1]]))
            _let_through(norm, torch.from_numpy(values[node.input[2]]))
        for layer, node in enumerate(recurrent):
            _fill_layer(net.rnn, layer, [values[name] for name in node.input[1:4]])
        (last,) = (n for n in graph.node if n.op_type == "MatMul")
        net.out.weight.copy_(torch.from_numpy(values[last.input[1]]).T)
        net.out.bias.copy_(torch.from_numpy(values["out.bias"]))
        _unfold(net, norms, sample)
    return net


def _of_bytes(node: onnx.NodeProto, values: Mapping[str, NDArray[Any]]) -> NDArray[np.float32]:
    """What the bytes of an eight-bit weight stand for; its first axis has the channels, each with its scale."""
    packed, scale, zero = (values[name].astype(np.float32) for name in node.input)
    shape = (-1,) + (1,) * (packed.ndim - 1)
    return np.asarray((packed - zero.reshape(shape)) * scale.reshape(shape), dtype=np.float32)


def _let_through(norm: nn.BatchNorm2d, offset: torch.Tensor) -> None:
    """A norm that adds ``offset`` and does nothing else."""
    norm.running_mean = torch.zeros_like(offset)
    norm.running_var = torch.full_like(offset, 1 - norm.eps)
    norm.weight.fill_(1)
    norm.bias.copy_(offset)


def _fill_layer(rnn: nn.LSTM, layer: int, values: list[NDArray[np.float32]]) -> None:
    """Both directions of one layer from ONNX's W (2, 4h, in), R (2, 4h, h) and B (2, 8h)."""
    inward, across, offsets = values
    for way, suffix in enumerate(("", "_reverse")):
        half = offsets.shape[1] // 2
        for name, value in (
            ("weight_ih", inward[way]),
            ("weight_hh", across[way]),
            ("bias_ih", offsets[way, :half]),
            ("bias_hh", offsets[way, half:]),
        ):
            gates = np.split(value, 4)
            getattr(rnn, f"{name}_l{layer}{suffix}").copy_(torch.from_numpy(np.concatenate([gates[g] for g in _GATES])))


def _unfold(net: LetteringNet, norms: list[nn.BatchNorm2d], sample: torch.Tensor) -> None:
    """Give every norm the mean and spread of what reaches it, and undo them, so that the answer stays the same."""
    reached: dict[nn.Module, torch.Tensor] = {}
    hooks = [n.register_forward_pre_hook(lambda m, given: reached.__setitem__(m, given[0].detach())) for n in norms]
    net(sample)
    for hook in hooks:
        hook.remove()
    for norm in norms:
        spread, mean = torch.var_mean(reached[norm], dim=(0, 2, 3), unbiased=False)
        spread = spread.clamp(min=1e-6)
        norm.running_mean, norm.running_var = mean, spread
        norm.weight.copy_((spread + norm.eps).sqrt())
        norm.bias.add_(mean)
