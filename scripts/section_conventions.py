"""The conventions of a section folder (``manual.toml``, in the words of whoever typed it) in the project's own form."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Mapping, Sequence
from typing import Any

from digitize.errors import ConventionsWrong
from digitize.legend.conventions import conventions_from
from scripts.code_pattern import Tables, patterns_for

Table = Mapping[str, Any]
KINDS = {"diagram", "chart", "index", "legend", "other"}


def own_form(section: Table) -> str:
    """The project's conventions TOML that says what ``section`` says.

    What does not fit our form is left out, with a line on stderr, so that a manual with unusual habits is still read.
    """
    stated: dict[str, Any] = {}
    for part in (_vehicle, _tables, _zones, _drawing, _pages, _code):
        for key, value in part(section).items():
            tried = {**stated, key: value}
            try:
                conventions_from(as_toml(tried), key)
            except ConventionsWrong as fault:
                print(f"left out: {' '.join(fault.what.split())}", file=sys.stderr)
            else:
                stated = tried
    code = stated.get("code")
    if not code:
        stated.update(_pattern_that_fits(section, stated))
    return as_toml(stated)


def _vehicle(section: Table) -> dict[str, Any]:
    about = section.get("section", {})
    found: dict[str, Any] = {}
    if about.get("vehicle"):
        found["vehicle"] = str(about["vehicle"])
    width, height = about.get("page_width_mm"), about.get("page_height_mm")
    if width and height:
        found["page_size_mm"] = [float(width), float(height)]
    return found


def _tables(section: Table) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for theirs, ours in (("circuits", "circuits"), ("colours", "colours"), ("colors", "colours")):
        if section.get(theirs):
            found[ours] = {str(k).strip(): str(v) for k, v in section[theirs].items()}
    sizes = section.get("wire_code", {}).get("gauges") or []
    system = _gauge_system(section)
    gauges = {**({"system": system} if system else {}), **({"sizes": [str(s).strip() for s in sizes]} if sizes else {})}
    if gauges:
        found["gauges"] = gauges
    prefixes = section.get("connector_prefixes") or {}
    if prefixes:
        found["connectors"] = {"prefixes": {str(k).strip(): str(v) for k, v in prefixes.items()}}
    return found


def _gauge_system(section: Table) -> str | None:
    words = str(section.get("wire_code", {}).get("description", "")).casefold()
    if re.search(r"\bawg\b|american wire", words):
        return "awg"
    if re.search(r"\bsae\b", words):
        return "sae"
    return "mm2" if re.search(r"mm2|mm²|\bmm\b|square milli|cross.section|metric", words) else None


def _zones(section: Table) -> dict[str, Any]:
    z = section.get("zones")
    if not z:
        return {}
    found: dict[str, Any] = {}
    for key in ("across", "down"):
        if z.get(key) in {"letters", "numbers"}:
            found[key] = z[key]
    for theirs, ours in (("columns_per_sheet", "columns"), ("columns", "columns"), ("rows", "rows")):
        if isinstance(z.get(theirs), int) and z[theirs] > 0:
            found[ours] = z[theirs]
    for theirs, ours in (("first_column", "first_across"), ("first_row", "first_down")):
        if z.get(theirs) not in {None, ""}:
            found[ours] = str(z[theirs])
    skipped = z.get("letters_skipped") or []
    found["skipped"] = "".join(str(c).upper() for c in skipped)
    if isinstance(z.get("continues_across_sheets"), bool):
        found["continues"] = z["continues_across_sheets"]
    sides = [s for s in z.get("labels_at") or [] if s in {"top", "bottom", "left", "right"}]
    if sides:
        found["labels_at"] = sides
    order = re.findall(r"letter|number", str(z.get("reference", "")).casefold())
    found["order"] = "number-letter" if order[:1] == ["number"] else "letter-number"
    return {"zones": found}


def _drawing(section: Table) -> dict[str, Any]:
    d = section.get("drawing") or {}
    found: dict[str, Any] = {}
    crossing = str(d.get("crossing", "")).casefold()
    if crossing:
        hop = re.search(r"hop|bridge|loop|semi.?circle|jump|arch|half.?circle|hump", crossing)
        found["crossing"] = "hop" if hop and not re.search(r"no (?:hop|bridge)", crossing) else "plain"
    splice = str(d.get("splice", "")).casefold()
    if splice:
        found["splice"] = "dot" if re.search(r"dot|circle|spot|blob|filled", splice) else "none"
    if isinstance(d.get("connector_cavity_printed"), bool):
        found["cavities_printed"] = d["connector_cavity_printed"]
    return {"drawing": found} if found else {}


def _pages(section: Table) -> dict[str, Any]:
    found = []
    for page in section.get("pages") or []:
        kind = str(page.get("kind", "")).casefold()
        if isinstance(page.get("page"), int) and kind in KINDS:
            label = page.get("label")
            found.append({"page": page["page"], "kind": kind, **({"label": str(label)} if label else {})})
    return {"pages": found} if found else {}


def _code(section: Table) -> dict[str, Any]:
    return _pattern_that_fits(section, _tables(section))


def _pattern_that_fits(section: Table, tables: Mapping[str, Any]) -> dict[str, Any]:
    """The first pattern under which the example parses with the tables; without an example the described one."""
    told = section.get("wire_code") or {}
    example = str(told.get("example", "")).strip()
    description = str(told.get("description", ""))
    sizes: Sequence[str] = tables.get("gauges", {}).get("sizes", [])
    wanted = Tables(
        tuple(sorted(sizes, key=len, reverse=True)),
        tuple(sorted(tables.get("colours", {}), key=len, reverse=True)),
        tuple(sorted(tables.get("circuits", {}), key=len, reverse=True)),
    )
    for pattern in patterns_for(description, example, wanted):
        code: dict[str, Any] = {"pattern": pattern}
        if example:
            code["example"] = example
        longest = max((len(d) for d in re.findall(r"\d+", example)), default=0)
        code["number_digits"] = [1, max(3, min(longest, 8))]
        listed = {k: tables[k] for k in ("circuits", "colours", "gauges") if k in tables}
        try:
            conventions_from(as_toml({**listed, "code": code}), "code")
        except ConventionsWrong as fault:
            print(f"pattern {pattern!r} does not fit: {' '.join(fault.what.split())}", file=sys.stderr)
        else:
            return {"code": code}
    return {}


# -- TOML ---------------------------------------------------------------------------------------------------------


def as_toml(stated: Mapping[str, Any], above: str = "") -> str:
    """Plain TOML of nested tables, lists of tables, strings, numbers, truth values and flat lists."""
    lines: list[str] = []
    tables: list[str] = []
    for key, value in stated.items():
        name = key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)
        path = f"{above}.{name}" if above else name
        if isinstance(value, Mapping):
            tables.append(f"\n[{path}]\n{as_toml(value, path)}")
        elif isinstance(value, list) and value and all(isinstance(v, Mapping) for v in value):
            tables += [f"\n[[{path}]]\n{as_toml(v, path)}" for v in value]
        else:
            lines.append(f"{name} = {json.dumps(value, ensure_ascii=False)}\n")
    return "".join(lines + tables)
