# mypy: ignore-errors
# torch is only there where nets are trained
"""The net that finds symbols and meetings of lines, how it is written to ONNX and how it is read back.

``scripts/train_symbols`` trains it. Reading back takes a state (``.pt``), a trained ``.onnx`` or the eight-bit copy that is
shipped, so that a training can go on from what is committed.
"""

from __future__ import annotations

import copy
from pathlib import Path

import numpy as np
import onnx
import torch
import torch.nn.functional as F  # noqa: N812 - as all of torch's own pages call it
from onnx import TensorProto, helper, numpy_helper
from torch import nn

from digitize.ink.state import SYMBOL_KINDS
from fixtures.training.patch import AREAS, MEETINGS

KINDS = len(SYMBOL_KINDS)


def conv(a: int, b: int, k: int = 3, stride: int = 1, dilation: int = 1) -> nn.Sequential:
    """A convolution of ``a`` to ``b`` maps with its norm and clipping."""
    return nn.Sequential(
        nn.Conv2d(a, b, k, stride, dilation * (k // 2), dilation, bias=False), nn.BatchNorm2d(b), nn.ReLU(inplace=True)
    )


class Residual(nn.Module):
    """Two convolutions whose outcome is added to what came in."""

    def __init__(self, c: int, dilation: int = 1) -> None:
        super().__init__()
        self.first = conv(c, c, dilation=dilation)
        self.second = nn.Sequential(nn.Conv2d(c, c, 3, padding=1, bias=False), nn.BatchNorm2d(c))

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """(N, c, H, W) → the same."""
        return F.relu(x + self.second(self.first(x)))


class SymbolNet(nn.Module):
    """Grey picture (N, 1, H, W), ink 1 and paper 0, H and W multiples of 32 → symbol maps at H/4, area maps at H/2."""

    def __init__(self, widths: tuple[int, ...] = (16, 32, 64, 96, 112)) -> None:
        super().__init__()
        a, b, c, d, e = widths
        self.stem = nn.Sequential(conv(1, a, 5, 2), conv(a, a))
        self.at4 = nn.Sequential(conv(a, b, stride=2), Residual(b))
        self.at8 = nn.Sequential(conv(b, c, stride=2), Residual(c), Residual(c))
        self.at16 = nn.Sequential(conv(c, d, stride=2), Residual(d), Residual(d))
        self.at32 = nn.Sequential(conv(d, e, stride=2), Residual(e), Residual(e, dilation=2))
        self.to16, self.mix16 = conv(e, d, 1), conv(d, d)
        self.to8, self.mix8 = conv(d, c, 1), conv(c, c)
        m = b + b // 4
        self.to4, self.skip4, self.mix4 = conv(c, m, 1), conv(b, m, 1), conv(m, m)
        self.symbols = nn.Sequential(conv(m, m + 8), nn.Conv2d(m + 8, KINDS + 8 + 4, 1))
        self.to2, self.mix2 = conv(m, a, 1), conv(a, a)
        self.areas = nn.Conv2d(a, len(AREAS) + len(MEETINGS), 1)
        nn.init.constant_(self.symbols[1].bias[:KINDS], -4.6)
        nn.init.constant_(self.areas.bias, -3.0)

    def forward(self, x: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        """The symbol maps and the area maps of a picture."""
        x2 = self.stem(x)
        x4 = self.at4(x2)
        x8 = self.at8(x4)
        x16 = self.at16(x8)
        y = self.to16(self.at32(x16))
        y = self.mix16(x16 + F.interpolate(y, scale_factor=2.0))
        y = self.mix8(x8 + F.interpolate(self.to8(y), scale_factor=2.0))
        y = self.mix4(self.skip4(x4) + F.interpolate(self.to4(y), scale_factor=2.0))
        z = self.mix2(x2 + F.interpolate(self.to2(y), scale_factor=2.0))
        return self.symbols(y), self.areas(z)


def export(net: nn.Module, path: Path) -> None:
    """Write an ONNX file with half-precision weights (cast back on loading) and any picture size."""
    net = copy.deepcopy(net).eval().cpu().float()
    path.parent.mkdir(parents=True, exist_ok=True)
    torch.onnx.export(
        net,
        (torch.zeros(1, 1, 128, 192),),
        str(path),
        input_names=["ink"],
        output_names=["symbols", "areas"],
        dynamic_axes={
            "ink": {0: "n", 2: "h", 3: "w"},
            "symbols": {0: "n", 2: "h4", 3: "w4"},
            "areas": {0: "n", 2: "h2", 3: "w2"},
        },
        opset_version=17,
        dynamo=False,
    )
    model = onnx.load(str(path))
    graph = model.graph
    casts = []
    for weight in graph.initializer:
        values = numpy_helper.to_array(weight)
        if values.dtype == np.float32 and values.size > 64:
            name = weight.name
            weight.CopyFrom(numpy_helper.from_array(values.astype(np.float16), name + "_half"))
            casts.append(helper.make_node("Cast", [name + "_half"], [name], to=TensorProto.FLOAT))
    for node in reversed(casts):
        graph.node.insert(0, node)
    onnx.checker.check_model(model)
    onnx.save(model, str(path))


# -- reading back ---------------------------------------------------------------------------------------------------------


def start_from(net: SymbolNet, path: Path, pictures: torch.Tensor) -> None:
    """Give ``net`` the weights of an earlier one: a state (``.pt``) or an ``.onnx`` file, trained or eight-bit.

    An ONNX file has its norms folded into the convolutions. They are taken apart again by what the convolutions give on
    ``pictures`` ((N, 1, H, W), ink 1): each norm gets the mean and spread that it sees there, and is set to undo itself, so
    that nothing changes in what comes out, and training goes on from layers that are normed. Raises ValueError when the
    file holds another net.
    """
    if path.suffix != ".onnx":
        net.load_state_dict(torch.load(path, map_location="cpu")["net"])
        return
    folded = weights_of(path)
    layers = dict(net.named_modules())
    convs = [name for name, layer in layers.items() if isinstance(layer, nn.Conv2d)]
    if set(convs) != set(folded):
        raise ValueError(f"{path} holds other layers: {sorted(set(convs) ^ set(folded))[:4]}")
    seen: list[tuple[nn.Conv2d, nn.BatchNorm2d]] = []
    with torch.no_grad():
        for name in convs:
            weight, bias = folded[name]
            layer = layers[name]
            assert isinstance(layer, nn.Conv2d)
            layer.weight.copy_(torch.from_numpy(weight))
            stem, _, last = name.rpartition(".")
            norm = layers.get(f"{stem}.{int(last) + 1}") if last.isdigit() else None
            if isinstance(norm, nn.BatchNorm2d):
                norm.running_mean.zero_()
                norm.running_var.fill_(1.0 - norm.eps)
                norm.weight.fill_(1.0)
                norm.bias.copy_(torch.from_numpy(bias))
                seen.append((layer, norm))
            else:
                assert layer.bias is not None
                layer.bias.copy_(torch.from_numpy(bias))
    _norm_again(net, seen, pictures)


def _norm_again(net: SymbolNet, pairs: list[tuple[nn.Conv2d, nn.BatchNorm2d]], pictures: torch.Tensor) -> None:
    """Set each norm to the mean and spread of what its convolution gives on ``pictures``, and to undo just that."""
    told: dict[nn.Module, tuple[torch.Tensor, torch.Tensor]] = {}

    def keep(layer: nn.Module, _: object, out: torch.Tensor) -> None:
        told[layer] = (out.mean((0, 2, 3)), out.var((0, 2, 3)))

    hooks = [layer.register_forward_hook(keep) for layer, _ in pairs]
    was = net.training
    net.eval()
    with torch.no_grad():
        net(pictures)
        for hook in hooks:
            hook.remove()
        for layer, norm in pairs:
            mean, spread = told[layer]
            spread = spread.clamp(min=1e-4)
            norm.running_mean.copy_(mean)
            norm.running_var.copy_(spread)
            norm.weight.copy_((spread + norm.eps).sqrt())
            norm.bias.add_(mean)
    net.train(was)


def between(one: SymbolNet, other: SymbolNet, share: float, pictures: torch.Tensor) -> SymbolNet:
    """The net whose weights lie between two of which the second went on from the first: ``share`` of the second's.

    The mean of such nets errs less than either (Wortsman et al. 2022, "Model soups", from memory); its norms are measured
    anew on ``pictures`` (N, 1, H, W), ink 1.
    """
    first, second = one.state_dict(), other.state_dict()
    net = SymbolNet()
    net.load_state_dict(
        {k: v * share + first[k] * (1 - share) if v.is_floating_point() else v for k, v in second.items()}
    )
    for layer in net.modules():
        if isinstance(layer, nn.BatchNorm2d):
            layer.reset_running_stats()
            layer.momentum = None  # a plain mean over all that is seen
    net.train()
    with torch.no_grad():
        for part in pictures.split(24):
            net(part)
    return net.eval()


def weights_of(path: Path) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Weights and biases of every convolution of an ONNX file as float32, by the layer's name in ``SymbolNet``.

    Eight-bit ones come back as scale · (byte − zero) for each channel; half-precision ones are widened.
    """
    graph = onnx.load(str(path)).graph
    held = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
    made = {out: node for node in graph.node for out in node.output}

    def value(name: str) -> np.ndarray:
        if name in held:
            return held[name].astype(np.float32)
        node = made[name]
        if node.op_type == "Cast":
            return value(node.input[0])
        if node.op_type != "DequantizeLinear":
            raise ValueError(f"{path}: {name} comes from {node.op_type}, which no writer of this net uses")
        whole, scale, zero = (held[i] for i in node.input)
        axis = next((a.i for a in node.attribute if a.name == "axis"), 1)
        shape = [1] * whole.ndim
        if scale.ndim and scale.size > 1:
            shape[axis] = -1
        return ((whole.astype(np.float32) - zero.astype(np.float32).reshape(shape)) * scale.reshape(shape)).astype(
            np.float32
        )

    return {
        _layer_of(node.name): (value(node.input[1]), value(node.input[2]))
        for node in graph.node
        if node.op_type == "Conv"
    }


def _layer_of(node: str) -> str:
    """``/at4/at4.1/first/first.0/Conv`` → ``at4.1.first.0``: a container repeats its own name before the number."""
    path: list[str] = []
    for part in node.strip("/").split("/")[:-1]:
        if path and part.startswith(path[-1].split(".")[0] + "."):
            path[-1] = part
        else:
            path.append(part)
    return ".".join(path)
