"""Marks → ReadMarks: read all lettering of a sheet, freely and along each grammar of the manual."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from digitize.harness.claim import Alternative
from digitize.ink.state import Marks, TextBlock
from digitize.legend.automaton import Automaton
from digitize.reading.crops import cut_all
from digitize.reading.decode import Found, Lattice, Walk, search_along, search_free
from digitize.reading.engines import Grey, Sighting
from digitize.reading.last_point import without_points
from digitize.reading.lone import lone_box
from digitize.reading.parted import parted
from digitize.reading.readers import Readers
from digitize.reading.slant import lean_to_read, stood_up
from digitize.reading.state import ReadMarks, ReadText
from digitize.reading.trust import MISSHAPEN, Signs, clearness, in_drawing, misshapen
from digitize.reading.turned import turned_over
from digitize.reading.weigh import Verdict, same, weighed
from digitize.reading.whole import Seen, whole_strings
from digitize.reading.within import code_within

_ASK_BELOW = 0.85
"""Share of belief below which the second reader is asked."""

_LETTERING = 0.9
"""Blocks at least so probable tell how far the letters of a sheet lean: coils and springs lean as they like."""

_ASK_MOST = 40
"""At most so many crops of a sheet, the least sure first, so that a bad page costs no minutes."""


_LONGEST_KEY = 6
"""Keys of colours and circuits are at most about so long (common practice, no source)."""

_HARDLY = 0.02
"""A crop whose codes have less probability than this together is not a code as a whole."""


HOPELESS, HOPELESS_ELSE = {"code": 1e-10}, 1e-7
"""A string of a grammar that is so much less probable than the best free reading is not looked for: even with the grammar's
lift (``weigh.lift_of``) its share would be below 1 in 10,000, the least that evidence takes notice of (``wiring.evidence``)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What one crop says; the fields are those of ReadText, and the first reader's probability of ``text`` without a grammar."""

    text: str
    kind: str
    probability: float
    free: tuple[Alternative, ...]
    by_kind: tuple[tuple[str, tuple[Alternative, ...]], ...]
    readers: tuple[str, ...]
    read_freely: float


def read_marks(marks: Marks, grammars: Mapping[str, Automaton], readers: Readers, *, loose: bool = False) -> ReadMarks:
    """Read every text block of ``marks``. ``grammars``: an automaton for each kind of string the manual has rules for.

    ``loose``: the manual does not say how its codes are made.

    Parts of strings are joined (``whole``), so the marks that come back may have fewer and longer blocks. The chance that
    a text is right weighs that of its reading, that of its block being lettering at all, and what the page says (``trust.Trust``).
    """
    marks, readings, signs = read_signs(marks, grammars, readers, loose=loose)
    texts = tuple(
        ReadText(
            i, lone_box(r.text, block.box, block.angle), block.angle, r.text, r.kind,
            _chance(block, r, own, readers),
            r.free, r.by_kind, r.readers,
        )
        for i, (block, r, own) in enumerate(zip(marks.texts, readings, signs, strict=True))
    )  # fmt: skip
    return ReadMarks(marks, texts)


def _chance(block: TextBlock, reading: Reading, signs: Signs, readers: Readers) -> float:
    if not reading.text:
        return 0.0
    chance = readers.trust.chance(reading.kind, reading.text, signs)
    return min(chance, MISSHAPEN) if misshapen(reading.text, block.box, block.angle) else chance


def read_signs(
    marks: Marks, grammars: Mapping[str, Automaton], readers: Readers, *, loose: bool = False
) -> tuple[Marks, list[Reading], list[Signs]]:
    """``marks`` with their strings joined, what is read in each block, and what the page says about each reading."""
    walks = {kind: Walk(automaton) for kind, automaton in grammars.items()}
    crops = cut_all(marks)
    sightings = readers.first.read(crops)
    surely = [k for k, block in enumerate(marks.texts) if block.probability >= _LETTERING]
    lean = lean_to_read([crops[k] for k in surely], [sightings[k].probability for k in surely], readers.first.read)
    if lean:
        crops = stood_up(crops, lean)
        sightings = readers.first.read(crops)
    first = [_decoded(c, s, walks, loose=loose) for c, s in zip(crops, sightings, strict=True)]

    def look(crops: Sequence[Grey], letters: Sequence[int]) -> list[Seen | None]:
        crops = stood_up(crops, lean)
        sightings = readers.first.read(crops)
        return [
            _decoded(crop, s, walks, loose=loose) if sum(c.isalnum() for c in s.text) > least else None
            for crop, s, least in zip(crops, sightings, letters, strict=True)
        ]

    marks, first = turned_over(marks, first, look)
    marks, seen = whole_strings(marks, first, look)
    marks, seen = parted(marks, seen, walks, look)
    readings = _readings(seen, readers)
    for k in without_points([r.text for r in readings], [s.crop for s in seen]):
        readings[k] = replace(readings[k], text=f"{readings[k].text}.")
    return marks, readings, _signs(marks, readings)


def _signs(marks: Marks, readings: Sequence[Reading]) -> list[Signs]:
    clear = clearness([r.probability for r in readings if r.text])
    return [
        Signs(
            r.probability, block.probability, r.read_freely, in_drawing(block.box, marks.symbols),
            len(r.text.replace(" ", "")), clear,
        )
        for block, r in zip(marks.texts, readings, strict=True)
    ]  # fmt: skip


def read_crops(crops: Sequence[Grey], grammars: Mapping[str, Automaton], readers: Readers) -> list[Reading]:
    """Read upright crops of single lines (``crops.cut`` makes them); one reading each, in order."""
    walks = {kind: Walk(automaton) for kind, automaton in grammars.items()}
    return _readings(_seen(crops, walks, readers), readers)


def _seen(crops: Sequence[Grey], walks: Mapping[str, Walk], readers: Readers) -> list[Seen]:
    """What the first reader makes of ``crops``."""
    return [_decoded(c, s, walks) for c, s in zip(crops, readers.first.read(crops), strict=True)]


def _decoded(crop: Grey, sighting: Sighting, walks: Mapping[str, Walk], *, loose: bool = False) -> Seen:
    free, by_kind = searched(sighting, walks)
    limits = _with_code_within(free, by_kind, walks)
    return Seen(crop, free, by_kind, limits, weighed(free, by_kind, loose=loose), loose)


def _readings(seen: Sequence[Seen], readers: Readers) -> list[Reading]:
    """The first reader's verdicts, and those of all readers where it is not sure."""
    unsure = sorted((s.verdict.share, i) for i, s in enumerate(seen) if s.verdict.share < _ASK_BELOW and s.verdict.text)
    asked = sorted(i for _, i in unsure[:_ASK_MOST]) if readers.others else []
    said: dict[int, list[str]] = {i: [] for i in asked}
    for reader in readers.others if asked else ():
        for i, sighting in zip(asked, reader.read([seen[i].crop for i in asked]), strict=True):
            said[i].append(sighting.text)
    out = []
    for i, s in enumerate(seen):
        verdict = s.verdict
        names: tuple[str, ...] = (readers.first.name,)
        if i in said:
            names = readers.names
            verdict = weighed(s.free, s.by_kind, [text for text in said[i] if text], loose=s.loose)
        out.append(_reading(s, verdict, readers, names))
    return out


Searched = tuple[tuple[Found, ...], dict[str, tuple[Found, ...]]]
"""Free readings, and for each kind those along its grammar, both best first."""


def searched(sighting: Sighting, walks: Mapping[str, Walk]) -> Searched:
    """Free readings, and those along each grammar.

    A grammar is not searched when the free best already obeys it and leaves next to nothing over, and that of ``word``
    never: a manual's keys are short enough to be among the free readings.
    """
    lattice = Lattice.of(sighting.frames)
    free = search_free(lattice)
    by_kind: dict[str, tuple[Found, ...]] = {}
    for kind, walk in walks.items():
        hopeless = HOPELESS.get(kind, HOPELESS_ELSE)
        if kind == "word":
            short = free if free and len(free[0].text) <= _LONGEST_KEY else ()
            by_kind[kind] = tuple(Found(t, f.probability) for f in short if (t := walk.takes(f.text)) is not None)
            continue
        own = walk.takes(free[0].text) if free and free[0].probability > 0.98 else None
        if own is not None:
            rest = [Found(t, f.probability) for f in free[1:] if (t := walk.takes(f.text)) is not None]
            by_kind[kind] = (Found(own, free[0].probability), *rest)
        else:
            by_kind[kind] = search_along(lattice, walk, least=hopeless * (free[0].probability if free else 1.0))
    return free, by_kind


def _with_code_within(
    free: tuple[Found, ...], by_kind: dict[str, tuple[Found, ...]], walks: Mapping[str, Walk]
) -> dict[str, float]:
    """Add a code that stands inside the free reading to ``by_kind`` where no whole reading is a likely code.

    Returns how far it may be believed, by its text.
    """
    if "code" not in walks or sum(f.probability for f in by_kind["code"]) > _HARDLY:
        return {}
    inside = code_within(free, walks["code"])
    if inside is None:
        return {}
    code, limit = inside
    by_kind["code"] = (code, *(f for f in by_kind["code"] if f.text != code.text and f.probability < code.probability))
    return {code.text: limit}


def _reading(seen: Seen, verdict: Verdict, readers: Readers, names: tuple[str, ...]) -> Reading:
    calibration = readers.calibration
    chance = calibration.chance(f"{verdict.kind}+" if verdict.fits else "free+", verdict.share) if verdict.text else 0.0
    return Reading(
        verdict.text,
        verdict.kind,
        min(chance, seen.limits.get(verdict.text, 1.0)),
        calibration.ranked(None, seen.free),
        tuple((kind, calibration.ranked(None, found)) for kind, found in seen.by_kind.items()),
        names,
        max((f.probability for f in seen.free if same(f.text, verdict.text)), default=0.0),
    )
