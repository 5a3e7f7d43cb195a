"""Sheets that were scanned in overlapping parts: which pages belong together, gathered into one file, and made flat.

The parts of a sheet are named ``NAME_part1``, ``NAME_part2`` … or listed in the conventions. They are gathered, byte for
byte, in one uncompressed ZIP archive, which from then on is the sheet's source like any page file: a manual keeps it, and
nothing of any part is lost. The same parts always make the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import re
import tempfile
import zipfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from digitize.errors import PageUnreadable
from digitize.sheet.flatten import flatten
from digitize.sheet.join import Joined, join
from digitize.sheet.register import overlap_of
from digitize.sheet.sources import PARTS_SUFFIX, SourceFailure, load_pixels
from digitize.sheet.state import Scan, Sheet, SheetFacts, SheetHints

_NAMED = re.compile(r"(?P<sheet>.+?)[ _.-]*part[ _.-]?(?P<number>\d{1,3})", re.IGNORECASE)
_LIST = "parts.json"
_WHOLE = 0.7
"""Belief in a frame with all four sides drawn; one with a side missing gets 0.6 at most (``sheet.frame``)."""
_DAY_ONE = (1980, 1, 1, 0, 0, 0)


def gathered(
    scans: Sequence[Scan], stated: Mapping[str, Sequence[str]], folder: Path
) -> tuple[tuple[Scan, ...], tuple[SourceFailure, ...]]:
    """The pages with the parts of each sheet replaced by one scan, at the place of its first part.

    Args:
        scans: as ``find_scans`` gave them.
        stated: sheet id → names of the files of its parts, as the conventions state them.
        folder: where the gathered files are written.
    """
    groups, failures = _groups(scans, stated)
    first_of = {members[0].sheet: sheet for sheet, members in groups.items()}
    in_group = {m.sheet for members in groups.values() for m in members}
    taken = {s.sheet.casefold() for s in scans if s.sheet not in in_group}
    out: list[Scan] = []
    for scan in scans:
        if scan.sheet in first_of:
            name = first_of[scan.sheet]
            free, n = name, 1
            while free.casefold() in taken:
                n += 1
                free = f"{name}-{n}"
            taken.add(free.casefold())
            out.append(_gather(free, groups[name], folder))
        elif scan.sheet not in in_group:
            out.append(scan)
    return tuple(out), tuple(failures)


def _groups(
    scans: Sequence[Scan], stated: Mapping[str, Sequence[str]]
) -> tuple[dict[str, list[Scan]], list[SourceFailure]]:
    """Sheet id → its parts in order; two at least."""
    groups: dict[str, list[Scan]] = {}
    failures: list[SourceFailure] = []
    used: set[str] = set()
    for sheet, names in stated.items():
        members = [s for name in names for s in scans if Path(s.path).name == name]
        missing = [name for name in names if all(Path(s.path).name != name for s in scans)]
        if missing:
            fault = PageUnreadable(
                f"{sheet}: its part {', '.join(missing)} is not among the pages.",
                "Correct the names under [[joined]] in the conventions, or add the file.",
            )
            failures.append(SourceFailure(f"{sheet}{PARTS_SUFFIX}", 0, fault))
        elif len(members) > 1:
            groups[sheet] = members
            used |= {s.sheet for s in members}
    named: dict[str, dict[int, Scan]] = defaultdict(dict)
    for scan in scans:
        match = _NAMED.fullmatch(scan.sheet)
        if match and scan.sheet not in used:
            named[match["sheet"].rstrip("_.- ")].setdefault(int(match["number"]), scan)
    for sheet, by_number in named.items():
        if len(by_number) > 1 and sheet not in groups:
            groups[sheet] = [by_number[n] for n in sorted(by_number)]
    return groups, failures


def _gather(sheet: str, members: Sequence[Scan], folder: Path) -> Scan:
    path = folder / f"{sheet}{PARTS_SUFFIX}"
    listed = []
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for n, scan in enumerate(members, 1):
            name = f"{n} {Path(scan.path).name}"
            listed.append({"file": name, "page": scan.page})
            archive.writestr(zipfile.ZipInfo(name, _DAY_ONE), Path(scan.path).read_bytes())
        archive.writestr(zipfile.ZipInfo(_LIST, _DAY_ONE), json.dumps(listed, ensure_ascii=False))
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    first = members[0]
    return Scan(sheet, str(path), 0, digest, first.dpi, first.rights, tuple(s.path for s in members))


def joined_parts(path: Path) -> Joined:
    """The parts gathered in a file, put together. Raises PageUnreadable when they do not overlap or one cannot be read."""
    with tempfile.TemporaryDirectory(prefix="digitize-") as folder:
        try:
            with zipfile.ZipFile(path) as archive:
                listed = [(str(e["file"]), int(e["page"])) for e in json.loads(archive.read(_LIST))]
                for k, (name, _) in enumerate(listed):
                    (Path(folder) / f"{k}{Path(name).suffix}").write_bytes(archive.read(name))
        except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError) as fault:
            raise PageUnreadable(
                f"{path} does not hold the parts of a sheet.", "Read the folder with the parts again."
            ) from fault
        files = [Path(folder) / f"{k}{Path(name).suffix}" for k, (name, _) in enumerate(listed)]
        pictures = [
            load_pixels(Scan(path.stem, str(f), page, "", None, "")) for f, (_, page) in zip(files, listed, strict=True)
        ]
    names = [(name.split(" ", 1)[1], page) for name, page in listed]
    return join(pictures, names, path.stem)


def flat_page(scan: Scan, hints: SheetHints) -> Sheet:
    """The page of a scan, flat; of a gathered file its parts put together. Raises PageUnreadable."""
    if Path(scan.path).suffix != PARTS_SUFFIX:
        return flatten(scan, load_pixels(scan), hints)
    joined = joined_parts(Path(scan.path))
    sheet = flatten(scan, joined.grey, hints)
    return replace(sheet, facts=replace(sheet.facts, parts=joined.parts))


def has_whole_frame(facts: SheetFacts) -> bool:
    """False for a page without a frame or with one of which a side had to be guessed: so look the parts of a sheet."""
    return facts.frame is not None and facts.frame_probability >= _WHOLE


def may_be_a_part(facts: SheetFacts) -> bool:
    """True for a page without a whole frame, unless it is one of tables: rows of small print look alike on many pages."""
    return facts.kind not in {"chart", "index", "legend"} and not has_whole_frame(facts)


def parts_proposed(scans: Sequence[Scan], frameless: set[str]) -> list[str]:
    """One line for each two neighbouring pages that overlap like the parts of one sheet.

    ``frameless``: ids of the pages on which no whole frame was found; a part of a sheet has none.
    """
    lines = []
    for one, two in pairwise(scans):
        if not {one.sheet, two.sheet} <= frameless:
            continue
        try:
            found = overlap_of(load_pixels(one), load_pixels(two))
        except PageUnreadable:  # it was read a moment ago; that it is gone now is told by the next run
            continue
        if found is not None:
            a, b = Path(one.path), Path(two.path)
            lines.append(
                f"{a.name} and {b.name} overlap: they seem to be two parts of one sheet. To join them, name them "
                f"{one.sheet}_part1{a.suffix} and {one.sheet}_part2{b.suffix}, or list them under [[joined]] in the conventions."
            )
    return lines
