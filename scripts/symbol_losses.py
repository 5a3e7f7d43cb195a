# mypy: ignore-errors
# torch is only there where nets are trained
"""What the symbol net is held against: its maps' targets drawn from the truth of a piece, and the losses between them."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812 - as all of torch's own pages call it

from digitize.ink.state import SYMBOL_KINDS
from fixtures.training.patch import AREAS, LABEL_PX_PER_MM, MEETINGS
from scripts.symbol_net import KINDS

CONTAINERS = tuple(SYMBOL_KINDS.index(k) for k in ("fuse_block", "module"))
SIZE_MM = 64.0
NET_PX = 6  # px per mm that the net sees
CELL = 4 / NET_PX  # mm, a cell of the symbol maps

WEIGHT = {"heat": 1.0, "box": 1.5, "heading": 0.5, "area": 1.0, "meeting": 0.6}


def bumps(cx: torch.Tensor, cy: torch.Tensor, sx: torch.Tensor, sy: torch.Tensor, side: int) -> torch.Tensor:
    """Gaussian bumps (N, K, side, side) about centres given in cells."""
    grid = torch.arange(side, device=cx.device).float()
    gx = torch.exp(-((grid - cx[..., None]) ** 2) / (2 * sx[..., None] ** 2))
    gy = torch.exp(-((grid - cy[..., None]) ** 2) / (2 * sy[..., None] ** 2))
    return gy[..., :, None] * gx[..., None, :]


def by_class(bump: torch.Tensor, which: torch.Tensor, classes: int) -> torch.Tensor:
    """Highest bump of each class: (N, classes, H, W)."""
    n, k, h, w = bump.shape
    out = torch.zeros((n, classes + 1, h, w), device=bump.device)
    index = torch.where(which >= 0, which, torch.full_like(which, classes)).long()
    out.scatter_reduce_(1, index[..., None, None].expand(n, k, h, w), bump, "amax")
    return out[:, :classes]


def spots(
    px: torch.Tensor, py: torch.Tensor, which: torch.Tensor, classes: int, side: int, reach: int = 4
) -> torch.Tensor:
    """As bumps one cell wide by class, (N, classes, side, side), drawn only ``reach`` cells about each point: there are many."""
    n = px.shape[0]
    near = torch.arange(-reach, reach + 1, device=px.device)
    value = torch.exp(-(near[:, None] ** 2 + near[None, :] ** 2).float() / 2)
    x = px.round().long()[..., None, None] + near[None, :]
    y = py.round().long()[..., None, None] + near[:, None]
    real = (which >= 0)[..., None, None] & (x >= 0) & (x < side) & (y >= 0) & (y < side)
    spill = classes * side * side
    index = torch.where(real, (which.long()[..., None, None] * side + y) * side + x, torch.full_like(x, spill))
    out = torch.zeros((n, spill + 1), device=px.device)
    out.scatter_reduce_(1, index.flatten(1), value.expand_as(index).flatten(1), "amax")
    return out[:, :spill].view(n, classes, side, side)


def focal(logit: torch.Tensor, target: torch.Tensor) -> torch.Tensor:
    """Penalty-reduced focal loss of heat maps, for each true peak."""
    p = torch.sigmoid(logit).clamp(1e-4, 1 - 1e-4)
    peak = (target > 0.97).float()
    pull = -((1 - p) ** 2) * torch.log(p) * peak
    push = -(p**2) * torch.log(1 - p) * (1 - target) ** 4 * (1 - peak)
    return (pull + push).sum() / peak.sum().clamp(min=1)


def losses(
    out: tuple[torch.Tensor, torch.Tensor], areas: torch.Tensor, points: torch.Tensor, boxes: torch.Tensor
) -> dict[str, torch.Tensor]:
    """Each loss of a batch: ``out`` of the net against areas (N, 4, H/2, W/2), points (N, n, 3) and boxes (N, m, 6), mm."""
    maps, fields = out[0].float(), out[1].float()
    n, _, side, _ = maps.shape
    kind = boxes[..., 0]
    real = kind >= 0
    size = SIZE_MM / CELL
    x0, y0, x1, y1 = ((boxes[..., i] / CELL - 0.5) for i in (1, 2, 3, 4))
    cx, cy = ((x0 + x1) / 2).round(), ((y0 + y1) / 2).round()
    w, h = (x1 - x0).clamp(min=0.5), (y1 - y0).clamp(min=0.5)
    sx, sy = (w * 0.09).clamp(min=0.75), (h * 0.09).clamp(min=0.75)
    bump = bumps(cx, cy, sx, sy, side) * real[..., None, None]
    heat = by_class(bump, kind, KINDS)
    result = {"heat": focal(maps[:, :KINDS], heat)}
    # boxes: each cell near a centre learns the distances to the box's four sides
    grid = torch.arange(side, device=maps.device).float()
    container = torch.zeros_like(kind, dtype=torch.bool)
    for c in CONTAINERS:
        container |= kind == c
    total = maps.new_zeros(())
    for group, first in ((real & ~container, KINDS), (real & container, KINDS + 4)):
        own = bump * group[..., None, None]
        best, owner = own.max(1)
        weight = best * (best > 0.35)
        picked = [torch.gather(v, 1, owner.flatten(1)).view(n, side, side) for v in (x0, y0, x1, y1)]
        reach = F.softplus(maps[:, first : first + 4]) * 4
        px0 = (grid[None, None, :] - reach[:, 0]).clamp(-0.5, size - 0.5)
        py0 = (grid[None, :, None] - reach[:, 1]).clamp(-0.5, size - 0.5)
        px1 = (grid[None, None, :] + reach[:, 2]).clamp(-0.5, size - 0.5)
        py1 = (grid[None, :, None] + reach[:, 3]).clamp(-0.5, size - 0.5)
        tx0, ty0, tx1, ty1 = (v.clamp(-0.5, size - 0.5) for v in picked)
        inter = (torch.minimum(px1, tx1) - torch.maximum(px0, tx0)).clamp(min=0) * (
            torch.minimum(py1, ty1) - torch.maximum(py0, ty0)
        ).clamp(min=0)
        hull = (torch.maximum(px1, tx1) - torch.minimum(px0, tx0)) * (torch.maximum(py1, ty1) - torch.minimum(py0, ty0))
        union = (px1 - px0) * (py1 - py0) + (tx1 - tx0) * (ty1 - ty0) - inter
        giou = inter / union.clamp(min=1e-3) - (hull - union) / hull.clamp(min=1e-3)
        l1 = sum(
            F.smooth_l1_loss(a, b, beta=0.5, reduction="none")
            for a, b in ((px0, tx0), (py0, ty0), (px1, tx1), (py1, ty1))
        )
        total = total + ((1 - giou + 0.1 * l1) * weight).sum() / weight.sum().clamp(min=1)
    result["box"] = total
    directed = real & (boxes[..., 5] >= 0)
    own = bump * directed[..., None, None]
    best, owner = own.max(1)
    side_of = torch.gather(boxes[..., 5].clamp(min=0), 1, owner.flatten(1)).view(n, side, side).long()
    weight = best * (best > 0.5)
    result["heading"] = (
        F.cross_entropy(maps[:, KINDS + 8 : KINDS + 12], side_of, reduction="none") * weight
    ).sum() / weight.sum().clamp(min=1)
    pos = areas.mean((0, 2, 3), keepdim=True).clamp(min=1e-3)
    balance = torch.where(areas > 0, (0.5 / pos).clamp(max=8.0).sqrt(), torch.ones_like(areas))
    result["area"] = (
        F.binary_cross_entropy_with_logits(fields[:, : len(AREAS)], areas, reduction="none") * balance
    ).mean() * 4
    cells = fields.shape[-1]
    px, py = points[..., 1] * LABEL_PX_PER_MM - 0.5, points[..., 2] * LABEL_PX_PER_MM - 0.5
    truth = spots(px, py, points[..., 0], len(MEETINGS), cells)
    result["meeting"] = focal(fields[:, len(AREAS) :], truth)
    return result
