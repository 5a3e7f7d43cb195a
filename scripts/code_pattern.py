"""From a printed code described in words, and one example, to the pattern that the conventions file wants.

Two sources, each checked against the example: the description, phrase by phrase, and the example itself, taken apart by
the tables of gauges, colours and circuits. Nothing here knows any one manual.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass

SIGNS = {
    "space": " ", "blank": " ", "hyphen": "-", "dash": "-", "minus": "-", "full stop": ".", "dot": ".", "point": ".",
    "period": ".", "slash": "/", "oblique": "/", "stroke": "/", "colon": ":", "comma": ",", "plus": "+",
    "underscore": "_", "star": "*", "asterisk": "*", "equals sign": "=", "nothing": "", "no space": "",
}  # fmt: skip
COUNTS = {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "single": 1, "1": 1, "2": 2, "3": 3, "4": 4, "5": 5}
PUNCTUATION = r"[^\w\s]"


@dataclass(frozen=True, slots=True)
class Tables:
    """What the manual's legend lists: gauges, colours and circuits as printed."""

    gauges: tuple[str, ...]
    colours: tuple[str, ...]
    circuits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of a code: a printed sign (``field`` None) or a field with the signs that come and go with it."""

    sign: str
    field: str | None = None
    optional: bool = False
    after: str = ""
    spec: str = ""


def patterns_for(description: str, example: str, tables: Tables) -> list[str]:
    """Patterns worth trying, the most trusted first; none is sure to fit the example."""
    described = from_description(description)
    shown = from_example(example, tables)
    found: list[list[Part]] = []
    if described:
        found.append(described)
    if shown:
        found.append(_completed(shown, described or [], description))
        found.append(shown)
    written = [_written(parts) for parts in found]
    return list(dict.fromkeys(written))


def from_description(description: str) -> list[Part] | None:
    """The parts a description names in order, None when a phrase of it says nothing known.

    Groups are parted by semicolons and phrases by commas: ``circuit letter, circuit number; space; gauge``.
    """
    parts: list[Part] = []
    for phrase in _phrases(description):
        sign = _sign_named(phrase)
        if sign is not None:
            parts.append(Part(sign))
            continue
        found = _fields_of(phrase, after_colour=any(p.field == "colour" for p in parts))
        if not found:
            return None
        parts += found
    return _tidied(parts) if any(p.field for p in parts) else None


def _phrases(description: str) -> list[str]:
    bare = re.sub(r"\s*\((?:awg|sae|mm|metric|a\.?w\.?g|in )[^)]*\)", "", description, flags=re.IGNORECASE)
    phrases = [p.strip() for p in re.split(r"[;,]|\bthen\b|\bfollowed by\b", bare)]
    return [p for p in phrases if p]


def _sign_named(phrase: str) -> str | None:
    words = re.sub(r"^(?:an?|the)\s+", "", phrase.strip().casefold())
    if words in SIGNS:
        return SIGNS[words]
    quoted = re.fullmatch(r"""['"“‘](.{1,2})['"”’]""", phrase.strip())
    if quoted:
        return quoted[1]
    return words if re.fullmatch(PUNCTUATION, words) else None


def _fields_of(phrase: str, *, after_colour: bool) -> list[Part]:
    low = phrase.casefold()
    maybe = bool(re.search(r"optional|if any|if there|where|when|if present|may|possibly|sometimes", low))
    if "tracer" in low or "stripe" in low or "second colour" in low or "second color" in low:
        main = re.search(r"^\W*(?:main |base |body |ground )?colou?r\b", low)
        tracer = _tracer_part(phrase)
        return [Part("", "colour"), tracer] if main and not after_colour else [tracer]
    digits = _digit_count(low)
    if re.search(r"colou?r", low):
        return [Part("", "colour", maybe)]
    if re.search(r"gauge|cross.?section|\bsize\b|square|mm|awg|\barea\b|thickness", low):
        return [Part("", "gauge", maybe, after=_unit_after(phrase))]
    if re.search(r"segment|branch|suffix|sub.?letter|part letter", low):
        return [Part("", "segment", maybe, spec=digits and f"{digits} digits")]
    if "circuit" in low and "number" not in low:
        return [Part("", "circuit", maybe)]
    if "number" in low or "digits" in low:
        return [Part("", "number", maybe, spec=digits and f"{digits} digits")]
    if re.search(r"\b(?:system|group|letter)\b", low):
        return [Part("", "circuit", maybe)]
    return []


def _digit_count(phrase: str) -> str:
    span = re.search(r"(\w+)\s*(?:to|or|-|–)\s*(\w+)[\s-]+digits?", phrase)
    if span and span[1] in COUNTS and span[2] in COUNTS:
        return f"{COUNTS[span[1]]}-{COUNTS[span[2]]}"
    one = re.search(r"(\w+)[\s-]+(?:digits?|figures?)", phrase)
    return str(COUNTS[one[1]]) if one and one[1] in COUNTS else ""


def _unit_after(phrase: str) -> str:
    printed = re.search(r"(?:with|followed by)\s+(?:the )?(?:unit |letters? )?['\"]?(mm2|mm²|mm|sq)\b", phrase)
    return printed[1] if printed else ""


def _tracer_part(phrase: str) -> Part:
    low = phrase.casefold()
    if re.search(r"bracket|parenthes", low):
        return Part("(", "tracer", optional=True, after=")")
    quoted = re.search(r"""['"“‘](\W)['"”’]""", phrase)
    bare = re.search(rf"(?:^|\s)({PUNCTUATION})(?=\s|$)", phrase)
    named = next((sign for word, sign in SIGNS.items() if re.search(rf"\b{word}\b", low)), None)
    sign = quoted[1] if quoted else bare[1] if bare else (named or "")
    return Part(sign, "tracer", optional=True)


def from_example(example: str, tables: Tables) -> list[Part] | None:
    """The parts that one printed code shows, by the tables; None when it cannot be taken apart.

    Of all ways to take it apart the one that explains most of it by the tables wins.
    """
    ways = list(itertools.islice(_ways(example.strip(), 0, (), tables), 4000))
    if not ways:
        return None
    best = max(ways, key=_weight)
    parts = [
        Part(text) if field is None else Part("", field, optional=field in {"segment", "tracer"})
        for field, text in best
    ]
    return _tidied(parts)


Token = tuple[str | None, str]
WEIGHTS = {"circuit": 4, "gauge": 6, "colour": 6, "tracer": 5, "number": 3, "segment": 1, None: 0}


def _weight(tokens: tuple[Token, ...]) -> float:
    return sum(WEIGHTS[field] for field, _ in tokens) - 0.1 * len(tokens)


def _ways(text: str, at: int, before: tuple[Token, ...], tables: Tables):  # type: ignore[no-untyped-def]  # noqa: ANN202
    if at == len(text):
        yield before
        return
    used = {field for field, _ in before}
    rest = text[at:]
    last = text[at - 1] if at else " "
    for gauge in tables.gauges:
        if "gauge" not in used and rest.startswith(gauge) and not last.isdigit():
            after = rest[len(gauge) : len(gauge) + 2]
            if not after[:1].isdigit() and not (after[:1] in ".," and after[1:].isdigit()):
                yield from _ways(text, at + len(gauge), (*before, ("gauge", gauge)), tables)
    field = "tracer" if "colour" in used else "colour"
    for colour in tables.colours:
        if field not in used and rest.startswith(colour) and not (field == "colour" and last.isalpha()):
            yield from _ways(text, at + len(colour), (*before, (field, colour)), tables)
    for circuit in tables.circuits:
        if "circuit" not in used and rest.startswith(circuit) and not last.isalnum():
            yield from _ways(text, at + len(circuit), (*before, ("circuit", circuit)), tables)
    digits = re.match(r"\d+", rest)
    if digits and "number" not in used and not last.isdigit():
        yield from _ways(text, at + digits.end(), (*before, ("number", digits[0])), tables)
    if re.match(r"[A-Za-z](?![A-Za-z])", rest) and "segment" not in used and last.isdigit() and "number" in used:
        yield from _ways(text, at + 1, (*before, ("segment", rest[0])), tables)
    if not rest[0].isalnum() or re.match(r"mm2|mm²|mm\b", rest):
        width = len(re.match(r"mm2|mm²|mm\b|.", rest)[0])  # type: ignore[index]
        yield from _ways(text, at + width, (*before, (None, rest[:width])), tables)


def _completed(shown: list[Part], described: list[Part], description: str) -> list[Part]:
    """What the example shows, with the optional fields that only the description names."""
    have = {p.field for p in shown}
    parts = list(shown)
    low = description.casefold()
    if "tracer" not in have and "colour" in have and ("tracer" in low or "stripe" in low):
        at = next(i for i, p in enumerate(parts) if p.field == "colour")
        parts.insert(
            at + 1, next((p for p in described if p.field == "tracer"), _tracer_part(_about_tracer(description)))
        )
    if "segment" not in have and "segment" in low and "number" in have:
        at = next(i for i, p in enumerate(parts) if p.field == "number")
        parts.insert(at + 1, Part("", "segment", optional=True))
    return parts


def _about_tracer(description: str) -> str:
    return next((p for p in _phrases(description) if "tracer" in p.casefold() or "stripe" in p.casefold()), "")


def _tidied(parts: list[Part]) -> list[Part]:
    """Signs before an optional field come and go with it; neighbouring signs become one."""
    tidy: list[Part] = []
    for part in parts:
        last = tidy[-1] if tidy else None
        if part.field is None and last is not None and last.field is None:
            tidy[-1] = Part(last.sign + part.sign)
        elif part.optional and last is not None and last.field is None and len(tidy) > 1:
            tidy[-1] = Part(last.sign + part.sign, part.field, optional=True, after=part.after, spec=part.spec)
        else:
            tidy.append(part)
    return tidy


def _written(parts: list[Part]) -> str:
    out = []
    for p in parts:
        if p.field is None:
            out.append(p.sign)
        else:
            spec = f":{p.spec}" if p.spec else ""
            out.append(f"{{{p.sign}{p.field}{p.after}{spec}{'?' if p.optional else ''}}}")
    return "".join(out)
