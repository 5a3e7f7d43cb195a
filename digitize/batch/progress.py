"""How a long run tells how far it is. The parent process holds it; a run does not know who listens."""

from __future__ import annotations

from typing import Protocol

from digitize.batch.state import Failed


class Progress(Protocol):
    """Hears what happens in a run, page by page."""

    def begin(self, pages: int, unchanged: int) -> None:
        """``pages`` will be read; ``unchanged`` are in the manual already and stay as they are."""
        ...

    def page(self, sheet: str, seconds: float) -> None:
        """One page was read."""
        ...

    def failed(self, failed: Failed) -> None:
        """One page could not be read; the others go on."""
        ...

    def note(self, line: str) -> None:
        """A page was read but something about it should be known; one sentence that says what to do."""
        ...

    def end(self) -> None:
        """All pages are done."""
        ...
