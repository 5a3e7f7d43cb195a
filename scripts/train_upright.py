"""Train the little judge that tells upright lettering from lettering upside down; writes digitize/sheet/upright.npz.

Data recipe: capitals, figures and small letters of the single-stroke faces in the package Hershey-Fonts and of the outline faces named
below as far as this machine has them, drawn 7 to 16 px high, blurred, thickened, thinned, slanted a little and given
noise; half of them turned by 180 degrees. Characters that look the same both ways teach it to say "no idea". Nothing
from any manual is used. Takes about a minute: ``python scripts/train_upright.py``.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from HersheyFonts import HersheyFonts
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from digitize.sheet.upright import PATCH, patch_of

CHARACTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789" * 2 + "abcdefghijklmnopqrstuvwxyz"
"""Capitals and figures count twice: wiring pages are lettered in them."""
STROKE_FACES = ("futural", "futuram", "rowmans", "rowmand", "rowmant", "timesr", "timesrb", "cursive")
OUTLINE_FACES = (
    "truetype/dejavu/*.ttf",
    "truetype/liberation/*.ttf",
    "opentype/urw-base35/*.otf",
    "truetype/noto/NotoSansMono-Regular.ttf",
)
HIDDEN = 64
TARGET = Path(__file__).parent.parent / "digitize" / "sheet" / "upright.npz"


def masters() -> list[NDArray[np.uint8]]:
    """Every character of every face, 255 ink on 0, about 60 px high."""
    found = []
    for face in STROKE_FACES:
        font = HersheyFonts()
        font.load_default_font(face)
        font.normalize_rendering(60)
        for char in CHARACTERS:
            picture = np.zeros((120, 140), np.uint8)
            for (x0, y0), (x1, y1) in font.lines_for_text(char):
                cv2.line(picture, (round(x0) + 30, round(y0) + 25), (round(x1) + 30, round(y1) + 25), 255, 5)
            found.append(_cut(picture))
    paths = sorted({str(p) for pattern in OUTLINE_FACES for p in Path("/usr/share/fonts").glob(pattern)})
    for path in paths:
        if any(word in path for word in ("Dingbats", "StandardSymbols", "Emoji", "Oblique", "Italic")):
            continue
        font_file = ImageFont.truetype(path, 60)
        for char in CHARACTERS:
            image = Image.new("L", (160, 140), 0)
            ImageDraw.Draw(image).text((40, 30), char, fill=255, font=font_file)
            found.append(_cut(np.array(image)))
    return [m for m in found if m.size]


def _cut(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    rows, columns = np.any(picture > 60, axis=1), np.any(picture > 60, axis=0)
    if not rows.any():
        return np.zeros((0, 0), np.uint8)
    y, x = np.flatnonzero(rows), np.flatnonzero(columns)
    return picture[y[0] : y[-1] + 1, x[0] : x[-1] + 1]


def spoiled(master: NDArray[np.uint8], rng: np.random.Generator) -> NDArray[np.float32]:
    """One scanned-looking patch."""
    picture = cv2.copyMakeBorder(master, 12, 12, 12, 12, cv2.BORDER_CONSTANT)
    size = int(rng.integers(1, 6))
    change = rng.random()
    if change < 0.3:
        picture = cv2.dilate(picture, np.ones((size, size), np.uint8))
    elif change < 0.5:
        picture = cv2.erode(picture, np.ones((min(size, 3), min(size, 3)), np.uint8))
    h, w = picture.shape
    slant = rng.normal(0, 0.05)
    turn = rng.normal(0, 0.03)
    squeeze = rng.uniform(0.7, 1.15)
    matrix = np.array([[squeeze, slant, w / 2 * (1 - squeeze) - slant * h / 2], [turn, 1.0, -turn * w / 2]])
    picture = cv2.warpAffine(picture, matrix, (w, h))
    high = rng.uniform(7, 16)
    scale = high / master.shape[0]
    shrunk = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    if rng.random() < 0.6:
        shrunk = cv2.GaussianBlur(shrunk, (3, 3), rng.uniform(0.3, 0.9))
    top = max(int(shrunk.max()), 1)
    noisy = shrunk.astype(np.float32) * (255 / top) * rng.uniform(0.5, 1.0) + rng.normal(0, 12, shrunk.shape)
    dark = np.clip(noisy, 0, 255).astype(np.uint8)
    ink = dark > 0.45 * dark.max()
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    box = (int(columns[0]), int(rows[0]), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
    return patch_of(255 - dark, box)


def main() -> None:
    """Draw, train, report, write."""
    rng = np.random.default_rng(20260101)
    drawn = masters()
    every = [m for m in drawn for _ in range(12)]
    flip = rng.random(len(every)) < 0.5
    # turned over before anything else happens to it, so that no trace of the spoiling tells the two apart
    x = np.stack([spoiled(m[::-1, ::-1] if f else m, rng) for m, f in zip(every, flip, strict=True)])
    x = x.reshape(len(x), -1)
    y = (~flip).astype(np.float32)
    order = rng.permutation(len(x))
    held, used = order[: len(x) // 10], order[len(x) // 10 :]
    w1 = rng.normal(0, 0.08, (PATCH * PATCH, HIDDEN)).astype(np.float32)
    b1 = np.zeros(HIDDEN, np.float32)
    w2 = rng.normal(0, 0.2, HIDDEN).astype(np.float32)
    parts = [w1, b1, w2]
    first = [np.zeros_like(p) for p in parts]
    second = [np.zeros_like(p) for p in parts]
    step = 0
    for epoch in range(24):
        rate = 2e-3 * (0.5 ** (epoch // 7))
        for batch in np.array_split(rng.permutation(used), len(used) // 256):
            step += 1
            xb = x[batch]
            # the answer for a patch and for the same patch turned over must be opposite: one odd function
            hp, hn = np.tanh(xb @ parts[0] + parts[1]), np.tanh(xb[:, ::-1] @ parts[0] + parts[1])
            logit = (hp - hn) @ parts[2]
            error = (1 / (1 + np.exp(-logit)) - y[batch]) / len(batch)
            gp = error[:, None] * parts[2] * (1 - hp**2)
            gn = -error[:, None] * parts[2] * (1 - hn**2)
            gradients = [xb.T @ gp + xb[:, ::-1].T @ gn + 1e-4 * parts[0], gp.sum(0) + gn.sum(0), (hp - hn).T @ error]
            for i, gradient in enumerate(gradients):
                first[i] = 0.9 * first[i] + 0.1 * gradient
                second[i] = 0.999 * second[i] + 0.001 * gradient**2
                m, v = first[i] / (1 - 0.9**step), second[i] / (1 - 0.999**step)
                parts[i] = (parts[i] - rate * m / (np.sqrt(v) + 1e-8)).astype(np.float32)
        hp, hn = np.tanh(x[held] @ parts[0] + parts[1]), np.tanh(x[held][:, ::-1] @ parts[0] + parts[1])
        logit = (hp - hn) @ parts[2]
        sure = np.abs(logit) > 1
        right = (logit > 0) == (y[held] > 0.5)
        print(f"epoch {epoch}: right {right.mean():.3f}, of the {sure.mean():.2f} sure ones {right[sure].mean():.3f}")
    np.savez_compressed(
        TARGET, w1=parts[0].astype(np.float16), b1=parts[1].astype(np.float16), w2=parts[2].astype(np.float16)
    )
    print(f"{TARGET}: {TARGET.stat().st_size / 1e3:.0f} kB from {len(drawn)} drawn characters")


if __name__ == "__main__":
    main()
