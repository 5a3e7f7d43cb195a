"""One base error: what went wrong, where, what to do, and the exit code that says so."""

from __future__ import annotations


class DigitizeError(Exception):
    """A fault that a person can act on.

    Attributes:
        what: one sentence that names the fault and the place (file, page, line).
        advice: one sentence that says what to do next.
        exit_code: the process exit code, from the table in README.md.
    """

    exit_code = 1

    def __init__(self, what: str, advice: str) -> None:
        super().__init__(f"{what} {advice}".strip())
        self.what = what
        self.advice = advice


class CalledWrongly(DigitizeError):
    """A command, setting or option has a value that cannot be."""

    exit_code = 2


class NothingToRead(DigitizeError):
    """The folder or the files hold no page that could be read."""

    exit_code = 3


class SomePagesFailed(DigitizeError):
    """The run went on to its end, but at least one page could not be digitized."""

    exit_code = 4


class ConventionsWrong(DigitizeError):
    """The conventions file (TOML) has faults; all of them are listed with their places."""

    exit_code = 5


class ManualWrong(DigitizeError):
    """The manual's SQLite file is missing, rotten, locked or from a newer version."""

    exit_code = 6


class NotFound(DigitizeError):
    """A name, id, zone or code asked for is not in the manual."""

    exit_code = 7


class PartMissing(DigitizeError):
    """Something the command needs is not installed or was not built."""

    exit_code = 8


class PageUnreadable(DigitizeError):
    """One page cannot be read: not an image, truncated, protected, too small or too large."""

    exit_code = 4
