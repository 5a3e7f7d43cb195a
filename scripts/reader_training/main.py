"""``scripts/train_reader``: gather faces, train, ship, calibrate, write the card."""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
WEIGHTS = ROOT / "digitize" / "reading" / "weights"


def main() -> int:
    """Run the steps asked for; see ``--help``."""
    p = argparse.ArgumentParser(prog="scripts/train_reader", description=__doc__)
    p.add_argument(
        "--gather",
        type=Path,
        metavar="FONTS",
        help="read the faces from font files anywhere under FONTS into --faces, and stop",
    )
    p.add_argument("--faces", type=Path, default=ROOT / ".scratch" / "faces.npz", help="the gathered faces")
    p.add_argument(
        "--draw-pages",
        type=float,
        metavar="SECONDS",
        help="draw pages for so long, write what the finder cuts out of them into --pages, and stop",
    )
    p.add_argument("--pages", type=Path, help="crops of drawn pages to mix in")
    p.add_argument("--out", type=Path, default=ROOT / ".scratch" / "reader", help="folder for the trained network")
    p.add_argument("--seconds", type=float, default=450, help="wall time of the training proper")
    p.add_argument("--go-on-from", type=Path, metavar="NET", help="a net.pt or a shipped .onnx to start from")
    p.add_argument("--peak", type=float, default=2.6e-3, help="greatest learning rate")
    p.add_argument("--seed", type=int, default=11)
    p.add_argument(
        "--eight-bit", action="store_true", help="train, or ship, a network whose convolutions are rounded to bytes"
    )
    p.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 1))
    p.add_argument(
        "--tiny",
        action="store_true",
        help="a very small network for a few steps on the CPU, to see that all of it works",
    )
    p.add_argument(
        "--ship", action="store_true", help="no training: write ONNX, calibration and card from --out/net.pt into --to"
    )
    p.add_argument(
        "--average",
        nargs="+",
        metavar="NET=SHARE",
        help="no training: write the mean of these net.pt into --out/net.pt, and stop",
    )
    p.add_argument("--to", type=Path, default=WEIGHTS, help="folder for ONNX, calibration and card")
    p.add_argument("--measure", type=int, default=6000, help="held-out samples to calibrate and to measure on")
    a = p.parse_args()
    if a.gather:
        from fixtures.lettering_training.faces import gather  # noqa: PLC0415

        a.faces.parent.mkdir(parents=True, exist_ok=True)
        count, missing = gather(a.gather, a.faces)
        print(f"{count} faces in {a.faces}" + (f"; not found: {', '.join(missing)}" if missing else ""))
        return 0
    if a.draw_pages:
        from fixtures.lettering_training.crop_file import save  # noqa: PLC0415
        from fixtures.lettering_training.page_crops import SEED, draw_crops  # noqa: PLC0415

        crops = draw_crops(a.draw_pages, SEED + a.seed, 100)
        save(a.pages or a.faces.with_name("pages.npz"), crops)
        print(f"{len(crops)} crops of drawn pages")
        return 0
    if a.average:
        import torch  # noqa: PLC0415

        from scripts.reader_training.ship import averaged  # noqa: PLC0415

        a.out.mkdir(parents=True, exist_ok=True)
        shares = {Path(net): float(share) for net, share in (given.rsplit("=", 1) for given in a.average)}
        torch.save(averaged(shares).state_dict(), a.out / "net.pt")
        return 0
    if not a.faces.is_file():
        print(f"{a.faces} is missing. First run: scripts/train_reader --gather FOLDER_WITH_FONTS", file=sys.stderr)
        return 2
    a.out.mkdir(parents=True, exist_ok=True)
    from scripts.reader_training.learn import Plan, learn  # noqa: PLC0415 - torch and the like only when needed
    from scripts.reader_training.ship import load_net, ship  # noqa: PLC0415

    start = time.time()
    if a.ship:
        net = load_net(a.out / "net.pt")
    elif a.tiny:
        net = learn(
            Plan(
                a.faces,
                a.out,
                steps=24,
                workers=0,
                batch=32,
                peak=4e-3,
                warm=4,
                small=True,
                pages=a.pages,
                eight_bit=a.eight_bit,
            )
        )
    else:
        net = learn(
            Plan(
                a.faces,
                a.out,
                seconds=a.seconds,
                workers=a.workers,
                peak=a.peak,
                seed=a.seed,
                go_on_from=a.go_on_from,
                pages=a.pages,
                eight_bit=a.eight_bit,
            )
        )
    print(f"network after {time.time() - start:.0f} s", flush=True)
    if not a.ship and not a.tiny:
        return 0
    from digitize.reading.lettering import WEIGHTS as SHIPPED  # noqa: PLC0415
    from fixtures.lettering_training.fit import fit_and_write  # noqa: PLC0415

    a.to.mkdir(parents=True, exist_ok=True)
    ship(net, a.to / SHIPPED.name)
    if a.eight_bit:
        from scripts.reader_training.eight_bit import quantize  # noqa: PLC0415

        quantize(a.to / SHIPPED.name, a.faces, 40 if a.tiny else 400)
    fit_and_write(a.to, a.faces, 60 if a.tiny else a.measure)
    return 0
