"""A legend page: sections under headings, each line a key and its meaning."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from digitize.harness.claim import Alternative, Claim
from digitize.harness.place import Box
from digitize.legend.colour_words import named_colours
from digitize.reading.state import ReadText
from digitize.sheet.state import SheetFacts
from digitize.tables import wording
from digitize.tables.chart import BY
from digitize.tables.claims import claim_of, joined, union
from digitize.tables.layout import Row, Rules, clusters, letter_height, level_texts, rows_of
from digitize.tables.state import LegendLine

SPLIT = re.compile(r"^(?P<key>[A-Z0-9/.+-]{1,8}?)\s*(?:=|:|\s[-–—]\s|\.{2,}|…)\s*(?P<meaning>\S.*)$", re.IGNORECASE)
COLOURS_ENOUGH = 4
"""So many colours in words make a list of colours (own choice)."""
LONGEST_KEY = 4
FEWEST_LINES, KEYS_BEHIND = 3, 0.9
"""So many lines, and such a share of a list's, must have their short string behind the long one (own choice)."""
_PARTING = ("=", ":")
"""Signs that stand alone between a key and its meaning."""
SECTION_COLUMN = 20.0
"""Sections start at least this far apart across the page, mm."""


@dataclass(frozen=True, slots=True)
class _Section:
    name: str
    heading: Box
    texts: tuple[ReadText, ...]


def read_legend(facts: SheetFacts, texts: Sequence[ReadText], rules: Rules) -> tuple[LegendLine, ...]:
    """All lines of all sections; what stands under no known heading is left to ``SheetTable.texts``."""
    level = level_texts(texts)
    out: list[LegendLine] = []
    for section in _sections(level, rules):
        out += _of_colours(_keys_first(_lines(facts, section)))
    return tuple(out)


def _keys_first(lines: list[LegendLine]) -> list[LegendLine]:
    """Lines of a list that prints its keys behind what they mean, turned round: keys are short, meanings are words."""
    told = [line for line in lines if line.key.value and line.meaning.value and line.section not in {"code", "symbol"}]
    behind = [
        line
        for line in told
        if len(line.meaning.value or "") <= LONGEST_KEY and len(line.key.value or "") > len(line.meaning.value or "")
    ]
    if len(behind) < FEWEST_LINES or len(behind) < KEYS_BEHIND * len(told):
        return lines
    return [replace(line, key=line.meaning, meaning=line.key) if line in told else line for line in lines]


def _of_colours(lines: list[LegendLine]) -> list[LegendLine]:
    """Lines under an unreadable heading whose meanings are colours are a list of colours."""
    if any(line.section not in {"other", "code"} for line in lines):
        return lines
    told = [line for line in lines if line.meaning.value is not None]
    named = [line for line in told if named_colours(line.meaning.value or "") is not None]
    if len(named) < COLOURS_ENOUGH or 2 * len(named) < len(told):
        return lines
    return [replace(line, section="colour") if line in named else line for line in lines]


def headings(texts: Sequence[ReadText], rules: Rules) -> list[tuple[str, ReadText]]:
    """Texts that open a section: heading words, nothing else on their line close by, often a rule under them."""
    tall = letter_height(texts)
    found = []
    for text in texts:
        section = wording.section_of(text.text)
        large = text.box.height > 1.05 * tall and any(c.isalpha() for c in text.text)
        if section is None and not large:
            continue
        ruled = rules.over(text.box.centre[0], text.box.y1, text.box.y1 + 1.8 * tall)
        key = [
            t for t in texts
            if t is not text and abs(t.box.centre[1] - text.box.centre[1]) < 0.6 * tall and 0 < text.box.x0 - t.box.x1 < 14 * tall
        ]  # fmt: skip
        beside = [
            t for t in texts
            if t is not text and abs(t.box.centre[1] - text.box.centre[1]) < 0.6 * tall and 0 < t.box.x0 - text.box.x1 < 6 * tall
        ]  # fmt: skip
        alone = not key and not beside
        if section is None and ruled and alone and len(wording.words(text.text)) <= 7:
            found.append(("other", text))
        elif section is not None and (ruled or (alone and text.box.height > 1.02 * tall)):
            found.append((section, text))
    # the sheet's title speaks of codes too: no heading when much larger than the others
    if len(found) > 1:
        usual = letter_height([t for _, t in found])
        found = [(s, t) for s, t in found if t.box.height < 1.4 * usual]
    return found


def _sections(texts: Sequence[ReadText], rules: Rules) -> list[_Section]:
    heads = headings(texts, rules)
    if not heads:
        return []
    starts = [x for x, _ in clusters([t.box.x0 for _, t in heads], SECTION_COLUMN)]

    def column(x: float) -> int:
        return max(0, sum(s - 4.0 <= x for s in starts) - 1)

    out = []
    for name, head in heads:
        k = column(head.box.x0)
        below = [h.box.y0 for _, h in heads if column(h.box.x0) == k and h.box.y0 > head.box.y1]
        end = min(below, default=float("inf"))
        inside = tuple(
            t for t in texts
            if t is not head and column(t.box.x0) == k and head.box.y1 - 0.5 < t.box.centre[1] < end
        )  # fmt: skip
        out.append(_Section(name, head.box, inside))
    return sorted(out, key=lambda s: (column(s.heading.x0), s.heading.y0))


def _lines(facts: SheetFacts, section: _Section) -> list[LegendLine]:
    tall = letter_height(section.texts)
    rows = rows_of([t for t in section.texts if t.text.strip() not in _PARTING])
    if section.name == "symbol":
        # captions stand under each other; what stands elsewhere belongs to the drawn symbols
        margins = clusters([r.texts[-1].box.x0 for r in rows], tall)
        caption = max(margins, key=lambda m: m[1], default=(0.0, 0))[0]
        rows = [r for r in rows if abs(r.texts[-1].box.x0 - caption) < 1.5 * tall]
    meanings = [x for x, n in clusters([r.texts[1].box.x0 for r in rows if len(r.texts) > 1], 2 * tall) if n >= 2]
    out: list[LegendLine] = []
    reach = section.heading.y1
    for row in rows:
        # a page label at the foot, far below the section, is none of its lines
        if row.box.y0 - reach > 12 * tall:
            break
        line = _line(facts, section.name, row, meanings, tall)
        reach = row.box.y1
        if line is not None:
            out.append(line)
        elif out and out[-1].meaning.value is not None:
            more = claim_of(facts, list(row.texts), None, BY)
            out[-1] = replace(out[-1], meaning=joined(out[-1].meaning, more, " "), box=union([out[-1].box, row.box]))
    return out


def _line(facts: SheetFacts, section: str, row: Row, meanings: list[float], tall: float) -> LegendLine | None:
    """One line; None when the row only goes on with the meaning before it."""
    first, rest = row.texts[0], row.texts[1:]
    if rest:
        meaning = claim_of(facts, [rest[0]], None, BY)
        for more in rest[1:]:
            meaning = joined(meaning, claim_of(facts, [more], None, BY), " ")
        if section == "symbol":
            # letters inside the drawn symbol are part of the picture
            return LegendLine(section, Claim.unread(0.9), claim_of(facts, [rest[-1]], None, BY), row.box)
        return LegendLine(section, claim_of(facts, [first], None, BY), meaning, row.box)
    split = SPLIT.match(first.text.strip())
    if split is not None and section != "symbol":
        whole = claim_of(facts, [first], None, BY)
        return LegendLine(section, _part(whole, split["key"]), _part(whole, split["meaning"]), row.box)
    if section == "symbol":
        return LegendLine(section, Claim.unread(0.9), claim_of(facts, [first], None, BY), row.box)
    if any(abs(first.box.x0 - x) < 2 * tall for x in meanings):
        return None
    kind = "code" if section == "code" else None
    return LegendLine(section, claim_of(facts, [first], kind, BY), Claim.unread(0.9), row.box)


def _part(whole: Claim, text: str) -> Claim:
    return replace(whole, value=text, alternatives=(Alternative(text, whole.probability),))
