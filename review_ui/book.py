"""The conventions of a manual as text for the desk."""

from __future__ import annotations

from digitize.batch.at_desk import wanted_conventions
from digitize.harness.edits import Reviewed
from digitize.legend.conventions import conventions_from
from digitize.legend.conventions_text import conventions_text
from digitize.store.manual import Manual
from review_ui.drawing import Json


def conventions_told(manual: Manual, reviewed: Reviewed) -> Json:
    """As a person last typed them (``corrected``), as they were worked out (``proposed``), or as they were ``stated``."""
    wanted = wanted_conventions(manual)
    corrected = reviewed.conventions
    if corrected is not None and conventions_from(corrected[1]) == wanted:
        return {"text": corrected[1], "source": "corrected"}
    proposed = manual.setting("proposed")
    if proposed:
        return {"text": proposed, "source": "proposed"}
    return {"text": conventions_text(wanted), "source": "stated"}
