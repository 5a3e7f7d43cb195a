"""What the commands do that answer questions about a harness: find."""

from __future__ import annotations

import json
from pathlib import Path

from digitize.errors import NotFound
from digitize.store.manual import Manual


def show_found(file: Path, words: str, *, as_json: bool) -> None:
    """Print what fits ``words``. Raises NotFound, with the nearest names, when nothing does."""
    from digitize.index.search import Index
    from digitize.index.told import found_as_json, found_as_text, printable

    with Manual.open(file) as manual:
        harness = manual.reviewed().harness
    index = Index(harness)
    found = index.find(words)
    if not found:
        near = ", ".join(printable(n) for n in index.nearest(words))
        offer = f"Nearest: {near}." if near else "Ask for a name, a code, a connector or a zone such as C5."
        raise NotFound(f"Nothing in {file} fits {words!r}.", offer)
    if as_json:
        print(json.dumps(found_as_json(harness, words, found), indent=1, ensure_ascii=False))
    else:
        print(found_as_text(harness, found))
