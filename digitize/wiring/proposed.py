"""Conventions that nobody stated, proposed from the pages of a manual: each line with its evidence, to be confirmed.

The legend pages are asked first (``tables.proposal``); how codes are written and what stands in their slots is found from
all print of the manual (``legend.code_statistics``); the grid, the kinds of the pages and the ids of connectors, grommets
and grounds from what was found on the sheets.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from digitize.harness.claim import Claim
from digitize.legend.axes import labels_from
from digitize.legend.code_statistics import CodeWay, code_ways
from digitize.legend.conventions import Conventions
from digitize.sheet.state import SheetFacts
from digitize.tables.proposal import ProposedLine, propose_conventions
from digitize.tables.state import SheetTable
from digitize.wiring.proposed_parted import parted_right
from digitize.wiring.proposed_short import propose_short_codes
from digitize.wiring.proposed_size import propose_size
from digitize.wiring.proposed_work import Proposed, Work
from digitize.wiring.short_keys import short_keys
from digitize.wiring.state import SheetWiring

READ_WELL = 0.5
"""Print read less surely is left out of the statistics."""
READ_AT_ALL = 0.3
"""Codes are told from other print by their number: before their way of writing is known readers trust them little."""
FEW_CODES = 0.5
"""Where fewer codes were read for each line, sizes that were not seen may stand on the wires: all usual ones are proposed
(own choice; every line carries a code in most manuals, and charts print it again)."""
OFTEN = 2
"""A value of a slot that no legend lists must stand so often (own choice)."""
COVERS = 0.97
"""A legend that names so much of what stands in a slot is taken to be whole."""
SEGMENTS_ENOUGH = 30
"""From so many segment letters on, those of ``CONFUSING`` that never stand are taken to be left out."""
LABELS_FIT = 0.85
"""A way of counting the zones must explain so many of the labels read on the frames (own choice)."""
CONFUSING = "IOQ"
"""Letters that drawing offices leave out since they look like figures (common practice; ISO 5457 skips I and O)."""

SIZES_MM2 = frozenset(
    (
        0.22,
        0.35,
        0.5,
        0.75,
        0.85,
        1,
        1.25,
        1.5,
        2,
        2.5,
        3,
        4,
        5,
        6,
        8,
        10,
        12,
        16,
        20,
        25,
        30,
        35,
        40,
        50,
        60,
        70,
        95,
        120,
    )
)
"""Nominal sections: IEC 60228 class 5 and those of road vehicle cables (ISO 6722); from memory."""
SIZES_AWG = frozenset((0, 1, 2, 3, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24))
"""American Wire Gauge sizes in use on vehicles (ASTM B258 numbers; which are in use: common practice, no source)."""

SMALL_SIZES = 10
"""Sizes from this on are printed without decimals even where smaller ones have a nought (common practice, no source)."""

_SQUARE_MM = re.compile(r"MM2|MM²|\bMM\b|SQ|SECTION|METRIC")
_ID = re.compile(r"(?P<prefix>[A-Z]{1,4})(?P<number>\d{1,4})(?P<suffix>[A-Z]?)")


def proposed_conventions(
    sheets: Sequence[SheetWiring], tables: Sequence[SheetTable], numbers: Mapping[str, int], stated: Conventions
) -> Proposed:
    """What the pages say about their own conventions; what is stated stays as it is.

    ``numbers``: page number of each sheet id, from 1. Nothing is proposed for what the pages leave open.
    """
    work = Work(stated)
    propose_size(work, sheets, tables)
    legend = propose_conventions(tables)
    ways = _ways_of(sheets, tables, legend.circuits, legend.colours)
    short = propose_short_codes(work, sheets, short_keys(sheets, tables), sum(len(w.seen) for w in ways))
    if short:
        ways = ()  # what looked like longer codes were a few strings of another sort
    elif ways and not stated.code.pattern:
        _codes(work, ways, () if legend.small_colours else legend.examples)
    _slot(work, "circuits", legend.circuits, _counted(ways, "circuit"))
    colours, counted = legend.colours, _counted(ways, "colour")
    if legend.small_colours:
        colours = tuple(replace(line, key=line.key.lower()) for line in colours)
        counted = Counter({key.lower(): n for key, n in counted.items()})
    _slot(work, "colours", colours, counted)
    few = sum(len(w.seen) for w in ways) < FEW_CODES * sum(len(s.runs) for s in sheets)
    _sizes(work, _counted(ways, "gauge") - _without_point(ways), tables, few=few)
    _ids(work, sheets, tables, legend.connectors)
    if stated.zones == Conventions().zones:
        _zones(work, [s.facts for s in sheets], numbers)
    if not stated.pages:
        _pages(work, [*(s.facts for s in sheets), *(t.facts for t in tables)], numbers)
    return work.done()


def _ways_of(
    sheets: Iterable[SheetWiring],
    tables: Iterable[SheetTable],
    circuits: Iterable[ProposedLine],
    colours: Iterable[ProposedLine],
) -> tuple[CodeWay, ...]:
    strings = [t.text for s in sheets for t in s.texts if t.probability >= READ_AT_ALL]
    strings += [t.text for s in tables for t in s.texts if t.probability >= READ_AT_ALL]
    listed = [c.key for c in colours]
    return parted_right(code_ways(strings, listed, [c.key for c in circuits]), listed)


def _counted(ways: Iterable[CodeWay], field: str) -> Counter[str]:
    return sum((w.values(field) for w in ways), Counter())


def _codes(work: Work, ways: Sequence[CodeWay], examples: Sequence[ProposedLine]) -> None:
    fitting = sum(len(w.seen) for w in ways)
    why = f"{fitting} printed codes are written so"
    work.put("code.pattern", tuple(w.pattern for w in ways), why, 1 - 1 / (fitting + 1))
    spans = [w.lengths("number") for w in ways if w.lengths("number") != (0, 0)]
    if spans:
        digits = (min(a for a, _ in spans), max(b for _, b in spans))
        work.put("code.number_digits", digits, "all of these", 1 - 1 / (fitting + 1))
    segments = _counted(ways, "segment")
    missing = "".join(c for c in CONFUSING if segments[c] < max(1, 0.01 * segments.total()))
    if segments.total() >= SEGMENTS_ENOUGH and missing:
        letters = "".join(c for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if c not in missing)
        work.put("code.segment_letters", letters, f"{missing} never stand among {segments.total()}", 0.9)
    for example in examples:
        if any(example.key == s for w in ways for s, _ in w.seen):
            work.put("code.example", example.key, "printed on the legend", example.probability, example.evidence)
            return


def _slot(work: Work, table: str, legend: Sequence[ProposedLine], counted: Counter[str]) -> None:
    """A table of keys: the legend's, and what stands often in the slot when the legend does not name nearly all of it."""
    if work.stated.model_dump()[table]:
        return
    total = counted.total()
    named = {line.key for line in legend}
    for line in legend:
        if not counted[line.key] and line.probability < READ_WELL:
            continue
        why = f"legend; {_times(counted[line.key])} in codes" if total else "legend"
        work.put(f"{table} / {line.key}", line.meaning.lower(), why, line.probability, line.evidence)
    if not total or sum(counted[k] for k in named) >= COVERS * total:
        return
    for value, n in sorted(counted.items()):
        if value not in named and n >= max(OFTEN, 0.004 * total):
            work.put(f"{table} / {value}", "not named in a legend", f"stands {_times(n)} in codes", 1 - 1 / (n + 1))


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"


def _sizes(work: Work, counted: Counter[str], tables: Iterable[SheetTable], *, few: bool) -> None:
    stated = work.stated.gauges
    if not counted:
        return
    said = " ".join(
        f"{line.key.value or ''} {line.meaning.value or ''}".upper()
        for t in tables
        for line in t.legend
        if line.section == "code"
    )
    pointed = sum(n for v, n in counted.items() if "." in v or "," in v)
    system, why, sure = None, "", 0.0
    if re.search(r"\bSAE\b", said):
        system, why, sure = "sae", "the legend says so", 0.95
    elif re.search(r"\bAWG\b", said):
        system, why, sure = "awg", "the legend says so", 0.95
    elif pointed > 0.2 * counted.total() or _SQUARE_MM.search(said):
        system, why, sure = "mm2", "sizes have decimals, or the legend speaks of sections", 0.97
    elif sum(n for v, n in counted.items() if _number(v) in SIZES_AWG) > 0.95 * counted.total():
        system, why, sure = "awg", "all are even gauge numbers; it could be SAE too", 0.8
    if system is not None and stated.system is None:
        work.put("gauges.system", system, why, sure)
    usual = SIZES_MM2 if system == "mm2" else SIZES_AWG
    kept = sorted((v for v, n in counted.items() if n >= OFTEN or _number(v) in usual), key=_number)
    if kept and not stated.sizes:
        why = "how often each stands in codes: " + ", ".join(f"{v}: {counted[v]}" for v in kept)
        if few and (system or stated.system):
            kept = sorted({*kept, *_as_printed(usual, kept)}, key=_number)
            why += "; few codes were read, so all usual sizes are listed"
        work.put("gauges.sizes", tuple(kept), why, 0.95)


def _as_printed(sizes: Iterable[float], seen: Sequence[str]) -> Iterator[str]:
    """Sizes as the manual prints them: its decimal sign, and whole numbers with a nought behind it or without."""
    sign = "," if any("," in s for s in seen) else "."
    noughts = any(s.endswith((".0", ",0")) for s in seen)
    for size in sizes:
        whole = float(size).is_integer()
        text = f"{size:.1f}" if whole and noughts and size < SMALL_SIZES else f"{size:g}"
        yield text.replace(".", sign)


def _without_point(ways: Sequence[CodeWay]) -> Counter[str]:
    """Sizes that are others whose point was not read, as often as they stand: ``25`` for ``2.5``.

    Such a size is known by its kin: wires of the same circuit and number carry the size with the point, and not once only
    (a copy loses points, a circuit seldom changes its size tenfold).
    """
    kin: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    for way in ways:
        for _, fields in way.seen:
            said = dict(fields)
            if "gauge" in said:
                kin[said.get("circuit", ""), said.get("number", "")][said["gauge"]] += 1
    counted = sum(kin.values(), Counter())
    lost: Counter[str] = Counter()
    for size, times in counted.items():
        pointed = [s for s in counted if size.isdigit() and s.replace(".", "").replace(",", "") == size and s != size]
        explained = sum(here[size] for here in kin.values() if any(here[s] for s in pointed))
        if 2 * explained >= times and sum(counted[s] for s in pointed) > 2 * times:
            lost[size] = times
    return lost


def _number(size: str) -> float:
    return float(size.replace(",", "."))


def _ids(
    work: Work, sheets: Sequence[SheetWiring], tables: Sequence[SheetTable], legend: Sequence[ProposedLine]
) -> None:
    drawn = [(p.kind, p.label) for s in sheets for p in s.places]
    connectors = _sure(c for kind, c in drawn if kind == "connector")
    connectors += _sure(e.connector for t in tables for e in t.chart)
    known = [m for m in (_ID.fullmatch(c) for c in connectors) if m is not None]
    stated = work.stated.connectors
    prefixes = Counter(m["prefix"] for m in known)
    if not stated.prefixes:
        for line in legend:
            why = f"legend; {_times(prefixes[line.key])} drawn or listed"
            if len(line.key) <= 4 and (prefixes[line.key] or line.probability >= READ_WELL):
                work.put(
                    f"connectors / prefixes / {line.key}", line.meaning.lower(), why, line.probability, line.evidence
                )
        named = {line.key for line in legend}
        if sum(prefixes[k] for k in named) < COVERS * prefixes.total():
            for prefix, n in sorted(prefixes.items()):
                if prefix not in named and n >= OFTEN:
                    said = "not named in a legend"
                    work.put(f"connectors / prefixes / {prefix}", said, f"{_times(n)} drawn or listed", 1 - 1 / (n + 1))
    if len(known) >= 4 and stated.pattern == Conventions().connectors.pattern:
        digits = [len(m["number"]) for m in known]
        suffixed = sum(bool(m["suffix"]) for m in known)
        pattern = "{prefix}{number:" + _span(min(digits), max(digits)) + " digits}"
        pattern += "{suffix:1 letters?}" if suffixed >= OFTEN else ""
        work.put("connectors.pattern", pattern, f"{len(known)} ids are written so", 1 - 1 / (len(known) + 1))
    for kind, table in (("grommet", "grommets"), ("ground", "grounds")):
        found = Counter(
            m["prefix"] for m in map(_ID.fullmatch, _sure(c for k, c in drawn if k == kind)) if m is not None
        )
        if found and found.most_common(1)[0][1] > OFTEN:
            prefix, n = found.most_common(1)[0]
            work.put(f"{table}.prefix", prefix, f"{_times(n)} at a drawn {kind}", 1 - 1 / (n + 1))


def _span(least: int, most: int) -> str:
    return str(least) if least == most else f"{least}-{most}"


def _sure(claims: Iterable[Claim]) -> list[str]:
    return [c.value.strip() for c in claims if c.value is not None and c.probability >= 0.8]


def _zones(work: Work, facts: Sequence[SheetFacts], numbers: Mapping[str, int]) -> None:
    """The grid, when the printed labels of all gridded diagram sheets agree on it."""
    gridded = sorted((f for f in facts if not f.zones.nominal and f.zones.columns), key=lambda f: numbers[f.sheet])
    if not gridded or len(gridded) < 0.5 * len(facts):
        return
    columns = [tuple(b.label for b in f.zones.columns) for f in gridded]
    rows = Counter(tuple(b.label for b in f.zones.rows) for f in gridded)
    down, agreeing = rows.most_common(1)[0]
    across = Counter(len(c) for c in columns).most_common(1)[0][0]
    if agreeing < 0.6 * len(gridded) or not down or len({c[0].isdigit() for c in columns}) != 1:
        return
    numbered = columns[0][0].isdigit()
    if numbered == down[0].isdigit():
        return
    skipped, goes_on, fitting = _counting([c for c in columns if len(c) == across], down)
    if fitting < LABELS_FIT:
        return
    why, sure = f"the labels of {agreeing} of {len(gridded)} frames", agreeing / (len(gridded) + 0.1)
    work.put("zones.across", "numbers" if numbered else "letters", why, sure)
    work.put("zones.down", "letters" if numbered else "numbers", why, sure)
    work.put("zones.columns", across, why, sure)
    work.put("zones.rows", len(down), why, sure)
    work.put("zones.first_across", columns[0][0], why, sure)
    work.put("zones.first_down", down[0], why, sure)
    if skipped:
        work.put("zones.skipped", skipped, "never among the labels", sure)
    if goes_on is not None:
        work.put("zones.continues", goes_on, "from frame to frame" if goes_on else "every frame begins anew", sure)


def _counting(columns: Sequence[tuple[str, ...]], down: tuple[str, ...]) -> tuple[str, bool | None, float]:
    """(letters skipped, whether the columns count on from frame to frame, share of labels that this explains).

    Whether they count on is None for a single frame.
    """
    kinds = ["numbers" if labels[0].isdigit() else "letters" for labels in (columns[0], down)]
    read = [*(label for c in columns for label in c), *down]
    best: tuple[str, bool | None, float] = ("", None, 0.0)
    # fewer skipped letters first: a later way must explain more
    for skipped in ("", "I", "O", "IO", "IOQ"):
        for goes_on in (True, False) if len(columns) > 1 else (None,):
            try:
                if goes_on:
                    across = labels_from(kinds[0], columns[0][0], len(columns[0]) * len(columns), frozenset(skipped))
                else:
                    across = labels_from(kinds[0], columns[0][0], len(columns[0]), frozenset(skipped)) * len(columns)
                wanted = (*across, *labels_from(kinds[1], down[0], len(down), frozenset(skipped)))
            except ValueError:  # a first label that this way of counting skips
                continue
            share = sum(a == b for a, b in zip(read, wanted, strict=True)) / len(read)
            if share > best[2]:
                best = skipped, goes_on, share
    return best


def _pages(work: Work, facts: Sequence[SheetFacts], numbers: Mapping[str, int]) -> None:
    pages = []
    for f in sorted(facts, key=lambda f: numbers[f.sheet]):
        if f.kind_probability >= 0.8:
            page = {"page": numbers[f.sheet], "kind": f.kind}
            pages.append(page | ({"label": f.label} if f.label else {}))
    if len(pages) == len(facts):
        work.said["pages"] = pages
