"""The training loop: CTC loss, AdamW, cosine schedule over wall time, running average of the weights."""

from __future__ import annotations

import copy
import json
import math
import random
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import torch
import torch.nn.functional as F  # noqa: N812 - torch's own custom

from digitize.reading.alphabet import WIDTH
from digitize.reading.lettering import PAPER, STEP
from scripts.reader_training.eight_bit import rounding, unrounded
from scripts.reader_training.feed import Batch, Stream
from scripts.reader_training.net import LetteringNet
from scripts.reader_training.shipped import net_of_onnx


@dataclass(frozen=True, slots=True)
class Plan:
    """How to train. ``seconds`` of wall time, or ``steps`` when that is not 0; ``most`` batches kept for later visits."""

    faces: Path
    out: Path
    seconds: float = 450
    steps: int = 0
    workers: int = 15
    batch: int = 512
    peak: float = 2.6e-3
    seed: int = 11
    most: int = 26000
    warm: int = 64
    small: bool = False
    go_on_from: Path | None = None
    pages: Path | None = None
    eight_bit: bool = False


def learn(plan: Plan) -> LetteringNet:
    """Train and give back the averaged network in evaluation mode; writes ``net.pt`` and ``log.json`` into ``out``.

    Raises RuntimeError when the stream of samples ends.
    """
    torch.manual_seed(plan.seed)
    r = random.Random(plan.seed)
    torch.set_float32_matmul_precision("high")
    if plan.small:
        torch.set_num_threads(1)  # spinning threads on a busy machine cost more than they bring
    device = "cuda" if torch.cuda.is_available() else "cpu"
    begun = _begun(plan)
    net = (rounding(copy.deepcopy(begun)) if plan.eight_bit else begun).to(device)
    average = copy.deepcopy(net).eval()
    optimizer = torch.optim.AdamW(net.parameters(), 1e-3, weight_decay=0.02, betas=(0.9, 0.98))
    print("parameters", sum(p.numel() for p in net.parameters()), "on", device, flush=True)
    pool, seen, stop, filler = _filling(plan, device)
    start = time.time()
    step, log, last = 0, [], 0.0
    held = _held_out(plan, device)
    while True:
        done = step / plan.steps if plan.steps else (time.time() - start) / plan.seconds
        if done >= 1:
            break
        if filler is not None and not filler.is_alive():
            raise RuntimeError("the sample stream ended: see its error above")
        rate = (
            plan.peak
            * min(1.0, (step + 1) / (30 if plan.small else 100 if plan.go_on_from else 300))
            * 0.5
            * (1 + math.cos(math.pi * done))
            + 2e-6
        )
        pictures, labels, widths, lengths = _pick(pool, plan.batch, r)
        x, widths = _varied(pictures, widths, r)
        net.train()
        for group in optimizer.param_groups:
            group["lr"] = rate
        fast = device == "cuda" and not plan.eight_bit  # half floats cannot tell 256 steps apart
        with torch.autocast(device, torch.bfloat16, enabled=fast):
            y = net(x)
        frames = ((widths + STEP - 1) // STEP).clamp(max=y.shape[1])
        loss = F.ctc_loss(y.float().transpose(0, 1), labels.long(), frames, lengths, zero_infinity=True)
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 3.0)
        optimizer.step()
        _averaged(average, net, min(0.9995, (1 + step) / (20 + step)))
        step += 1
        if step == 1 or time.time() - last > max(5.0, plan.seconds / 16):
            last = time.time()
            row = {
                "s": round(last - start),
                "step": step,
                "crops": seen[0],
                "rate": round(rate, 6),
                "loss": round(float(loss.detach()), 4),
                "held": _exact(average, held),
            }
            log.append(row)
            print(json.dumps(row), flush=True)
            _save(_plain(average, begun, plan), plan.out)
    stop.set()
    log.append(
        {
            "s": round(time.time() - start),
            "step": step,
            "crops": seen[0],
            "loss": round(float(loss.detach()), 4),
            "held": _exact(average, held),
        }
    )
    print(json.dumps(log[-1]), flush=True)
    made = _plain(average, begun, plan).cpu()
    _save(made, plan.out)
    (plan.out / "log.json").write_text(json.dumps(log))
    return made


def _plain(average: LetteringNet, begun: LetteringNet, plan: Plan) -> LetteringNet:
    """The averaged network as one that does not round."""
    return unrounded(average, begun) if plan.eight_bit else average


def _save(net: LetteringNet, out: Path) -> None:
    torch.save({k: v.cpu() for k, v in net.state_dict().items()}, out / "net.pt")


def _begun(plan: Plan) -> LetteringNet:
    """The network that training starts from."""
    if plan.go_on_from is None:
        return LetteringNet(WIDTH, small=plan.small)
    if plan.go_on_from.suffix == ".onnx":
        stream = iter(Stream(plan.faces, "train", plan.seed, size=128, chunk=1024, pages=plan.pages))
        widest = [next(stream) for _ in range(8)][-3]  # of like width: few columns are padding
        return net_of_onnx(plan.go_on_from, (widest[0].float() * (1.6 / 255) - 0.3)[:, None])
    net = LetteringNet(WIDTH, small=plan.small)
    net.load_state_dict(torch.load(plan.go_on_from, map_location="cpu", weights_only=True))
    return net


def _filling(plan: Plan, device: str) -> tuple[list[Batch], list[int], threading.Event, threading.Thread | None]:
    """A pool that worker processes fill while training goes on; full, it forgets at random."""
    size, chunk = (32, 64) if plan.small else (128, 1024)
    stream = Stream(plan.faces, "train", plan.seed, size=size, chunk=chunk, pages=plan.pages)
    loader = iter(
        torch.utils.data.DataLoader(
            stream,
            batch_size=None,
            num_workers=plan.workers,
            prefetch_factor=4 if plan.workers else None,
            pin_memory=device == "cuda",
        )
    )
    pool: list[Batch] = []
    seen = [0]
    stop = threading.Event()
    if not plan.workers:  # deterministic: all samples first
        for _ in range(plan.warm):
            pool.append(next(loader))
            seen[0] += len(pool[-1][0])
        return pool, seen, stop, None
    r = random.Random(plan.seed + 1)

    def fill() -> None:
        for batch in loader:
            if stop.is_set():
                return
            moved = tuple(t.to(device, non_blocking=True) for t in batch)
            if len(pool) < plan.most:
                pool.append(moved)
            else:
                pool[r.randrange(plan.most)] = moved
            seen[0] += len(moved[0])

    filler = threading.Thread(target=fill, daemon=True)
    filler.start()
    while len(pool) < plan.warm and filler.is_alive():
        time.sleep(0.05)
    return pool, seen, stop, filler


def _pick(pool: list[Batch], size: int, r: random.Random) -> Batch:
    """``size`` samples of like width, the newest batches twice as often."""
    n = len(pool)
    i = r.randrange(n) if r.random() < 0.6 else n - 1 - r.randrange(min(n, 128))
    first = pool[i]
    count = max(1, size // len(first[0]))
    if count == 1:
        return first
    others = [pool[r.randrange(n)] for _ in range(24)]
    others.sort(key=lambda b: abs(b[0].shape[2] - first[0].shape[2]))
    chosen = [first, *others[: count - 1]]
    width = max(b[0].shape[2] for b in chosen)
    pictures = torch.cat([F.pad(b[0], (0, width - b[0].shape[2]), value=PAPER) for b in chosen])
    return (pictures, *(torch.cat([b[k] for b in chosen]) for k in (1, 2, 3)))


def _varied(pictures: torch.Tensor, widths: torch.Tensor, r: random.Random) -> tuple[torch.Tensor, torch.Tensor]:
    """Cheap variety for samples that come again: contrast, noise, shift, stretch, small holes."""
    n = pictures.shape[0]
    device = pictures.device
    x = pictures.float() * (1.6 / 255) - 0.3
    x = x * (1 + 0.3 * (torch.rand(n, 1, 1, device=device) - 0.5)) + 0.08 * (torch.rand(n, 1, 1, device=device) - 0.5)
    x = x + torch.randn_like(x) * 0.06 * torch.rand(n, 1, 1, device=device) ** 2
    shift = r.randint(-2, 2)
    if shift:
        x = torch.roll(x, shift, 1)
    if r.random() < 0.5:
        columns = max(32, int(x.shape[2] * r.uniform(0.85, 1.18)) // 16 * 16)
        widths = (widths * (columns / x.shape[2])).long().clamp(min=16)
        x = F.interpolate(x[:, None], (x.shape[1], columns), mode="bilinear", align_corners=False)[:, 0]
    at_x = torch.rand(n, 1, 1, device=device) * widths.to(device).view(-1, 1, 1)
    at_y = torch.rand(n, 1, 1, device=device) * x.shape[1]
    half = 0.5 + 3 * torch.rand(n, 1, 1, device=device)
    hit = (torch.rand(n, 1, 1, device=device) < 0.2) & ((torch.arange(x.shape[2], device=device) - at_x).abs() < half)
    hit = hit & ((torch.arange(x.shape[1], device=device).view(1, -1, 1) - at_y).abs() < half)
    x = torch.where(hit, torch.zeros_like(x), x)
    return x.clamp(-0.3, 1.3)[:, None], widths


@torch.no_grad()
def _averaged(average: torch.nn.Module, net: torch.nn.Module, keep: float) -> None:
    ours, theirs = list(average.state_dict().values()), list(net.state_dict().values())
    moving = [(a, b) for a, b in zip(ours, theirs, strict=True) if a.dtype.is_floating_point]
    torch._foreach_lerp_([a for a, _ in moving], [b for _, b in moving], 1 - keep)
    for a, b in zip(ours, theirs, strict=True):
        if not a.dtype.is_floating_point:
            a.copy_(b)


def _held_out(plan: Plan, device: str) -> list[Batch]:
    stream = iter(Stream(plan.faces, "held", 77, size=32 if plan.small else 128, chunk=32 if plan.small else 2048))
    return [tuple(t.to(device) for t in next(stream)) for _ in range(1 if plan.small else 16)]


@torch.no_grad()
def _exact(net: torch.nn.Module, batches: list[Batch]) -> float:
    """Share of held-out samples whose best path is exactly right."""
    right = total = 0
    for pictures, labels, widths, lengths in batches:
        best = net((pictures.float() * (1.6 / 255) - 0.3)[:, None]).argmax(2).cpu()
        for row, label, width, length in zip(best, labels.cpu(), widths.tolist(), lengths.tolist(), strict=True):
            out, before = [], 0
            for k in row[: -(-width // STEP)].tolist():
                if k not in (0, before):
                    out.append(k)
                before = k
            right += out == label[:length].tolist()
            total += 1
    return round(right / max(1, total), 4)
