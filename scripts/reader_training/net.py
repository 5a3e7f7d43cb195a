"""The network: depthwise-separable residual convolutions, two bidirectional LSTM layers, CTC outputs.

A convolutional recurrent network with connectionist temporal classification (Shi et al., arXiv 1507.05717; Graves 2006),
kept small for one CPU core. Input N x 1 x 40 x W (ink near 1, paper near 0), output N x W/4 x V log probabilities.
"""

from __future__ import annotations

import torch
from torch import nn


def convolved(
    i: int,
    o: int,
    k: int | tuple[int, int],
    stride: tuple[int, int] = (1, 1),
    groups: int = 1,
    *,
    act: bool = True,
    pad: bool = True,
) -> nn.Sequential:
    """Convolution, batch norm and, unless ``act`` is False, ReLU."""
    size = (k, k) if isinstance(k, int) else k
    padding = (size[0] // 2, size[1] // 2) if pad else (0, 0)
    parts: list[nn.Module] = [nn.Conv2d(i, o, size, stride, padding, groups=groups, bias=False), nn.BatchNorm2d(o)]
    if act:
        parts.append(nn.ReLU(inplace=True))
    return nn.Sequential(*parts)


class Residual(nn.Module):
    """Depthwise convolution, pointwise widening and narrowing, added to the input."""

    def __init__(self, channels: int, k: int | tuple[int, int]) -> None:
        super().__init__()
        self.path = nn.Sequential(
            convolved(channels, channels, k, groups=channels, act=False),
            convolved(channels, 2 * channels, 1),
            convolved(2 * channels, channels, 1, act=False),
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """(n, channels, h, w) to the same."""
        return x + self.path(x)


class LetteringNet(nn.Module):
    """The recogniser; ``outputs`` is the alphabet with the blank."""

    def __init__(self, outputs: int, channels: int = 152, hidden: int = 112, small: bool = False) -> None:
        super().__init__()
        if small:
            channels, hidden = 48, 32
        a, b, d = (8, 16, 32) if small else (24, 48, 96)
        self.stem = nn.Sequential(
            convolved(1, a, 3, (2, 2)), convolved(a, b, 3, (2, 1)), Residual(b, 3), convolved(b, d, 3, (2, 2)),
            Residual(d, 5), Residual(d, 5), convolved(d, channels, (5, 1), pad=False),
            Residual(channels, (1, 9)), Residual(channels, (1, 9)),
        )  # fmt: skip
        self.rnn = nn.LSTM(channels, hidden, 2, bidirectional=True, batch_first=True, dropout=0.0 if small else 0.1)
        self.drop = nn.Dropout(0.0 if small else 0.1)
        self.out = nn.Linear(2 * hidden, outputs)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        """(n, 1, 40, w) to (n, w / 4, outputs)."""
        y = self.stem(x).squeeze(2).permute(0, 2, 1)
        return self.out(self.drop(self.rnn(y)[0])).log_softmax(2)
