"""What ``digitize find`` does: search one manual, or every manual below a folder."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path

from digitize.errors import DigitizeError, ManualWrong, NotFound
from digitize.harness.model import Harness
from digitize.index.search import WAYS, Found, Index
from digitize.index.told import found_as_json, found_as_text, printable
from digitize.store.manual import Manual

SHELF_FORMAT = "digitize-find-shelf-1"


def show_found(place: Path, words: str, *, as_json: bool) -> None:
    """Print what fits ``words`` in the manual ``place``, or in all ``.manual`` files below the folder ``place``.

    Raises NotFound, with the nearest names, when nothing fits; ManualWrong for a file that cannot be opened, for a
    folder only after all others were searched and told.
    """
    if place.is_dir():
        _show_shelf(place, words, as_json=as_json)
        return
    harness = _harness_of(place)
    index = Index(harness)
    found = index.find(words)
    if not found:
        raise _nothing(place, words, index.nearest(words))
    if as_json:
        print(json.dumps(found_as_json(harness, words, found), indent=1, ensure_ascii=False))
    else:
        print(found_as_text(harness, found))


@dataclass(frozen=True, slots=True)
class _Shelved:
    """What fits in one manual of many; ``nearest`` names when nothing does."""

    file: Path
    harness: Harness
    found: tuple[Found, ...]
    nearest: tuple[str, ...]


def _show_shelf(folder: Path, words: str, *, as_json: bool) -> None:
    files = sorted(folder.rglob("*.manual"))
    if not files:
        raise NotFound(f"No .manual file lies in {folder} or below it.", "Make them first: digitize read FOLDER.")
    searched: list[_Shelved] = []
    faults: list[tuple[Path, str]] = []
    for file in files:
        try:
            harness = _harness_of(file)
        except DigitizeError as fault:  # told below; one rotten file must not hide what the others hold
            faults.append((file, fault.what))
            continue
        index = Index(harness)
        found = index.find(words)
        searched.append(_Shelved(file, harness, found, () if found else index.nearest(words, 2)))
    hits = _only_the_best_way(searched)
    if as_json and hits:
        print(json.dumps(_shelf_as_json(words, hits, faults), indent=1, ensure_ascii=False))
    elif hits:
        print("\n".join(_shelf_as_lines(hits)))
    for _, why in faults:
        print(f"digitize: {why}", file=sys.stderr)
    if not hits and searched:
        raise _nothing(folder, words, tuple(dict.fromkeys(n for s in searched for n in s.nearest))[:5])
    if faults:
        raise ManualWrong(
            f"{len(faults)} of {len(files)} manuals in {folder} could not be searched; the others were.",
            "The lines above say why.",
        )


def _only_the_best_way(searched: list[_Shelved]) -> list[_Shelved]:
    """Manuals with a fit, the best first; names that are only spelled alike are left out when a real fit exists."""
    hits = [s for s in searched if s.found]
    real = [s for s in hits if s.found[0].how != "alike"]
    return sorted(real or hits, key=lambda s: (WAYS.index(s.found[0].how), -s.found[0].likeness, str(s.file)))


def _shelf_as_json(words: str, hits: list[_Shelved], faults: list[tuple[Path, str]]) -> dict[str, object]:
    return {
        "format": SHELF_FORMAT,
        "asked": words,
        "manuals": [{"file": str(s.file), **found_as_json(s.harness, words, s.found)} for s in hits],
        "not_searched": [{"file": str(file), "why": why} for file, why in faults],
    }


def _shelf_as_lines(hits: list[_Shelved]) -> list[str]:
    lines: list[str] = []
    for s in hits:
        lines.append(printable(str(s.file)))
        lines += [f"  {line}" for line in found_as_text(s.harness, s.found).splitlines()]
    return lines


def _harness_of(file: Path) -> Harness:
    with Manual.open(file) as manual:
        return manual.reviewed().harness


def _nothing(place: Path, words: str, nearest: tuple[str, ...]) -> NotFound:
    near = ", ".join(printable(n) for n in nearest)
    offer = f"Nearest: {near}." if near else "Ask for a name, a code, a connector or a zone such as C5."
    return NotFound(f"Nothing in {place} fits {words!r}.", offer)
