"""Whose word on the conventions counts: the file that a run states, or what a person corrected at the desk after it.

A correction at the desk is an edit like any other and can be taken back. It counts until the file that was stated changes.
Settings of the manual: ``conventions`` are those that its readings were made with; ``conventions_stated`` what the last run
stated; ``conventions_base`` what holds without any correction; ``conventions_floor`` the number of the last edit that a
changed file has overruled.
"""

from __future__ import annotations

from digitize.legend.conventions import Conventions, conventions_from
from digitize.store.manual import Manual


def corrected_at_desk(manual: Manual, stated: Conventions) -> tuple[Conventions | None, bool]:
    """(the desk's conventions when they count, whether a file that was changed later has just overruled them).

    Raises ConventionsWrong when a newer program wrote corrections that this one does not understand.
    """
    corrected = _last_correction(manual)
    if corrected is None:
        return None, False
    before = manual.setting("conventions_stated")
    if before is not None and before != stated.model_dump_json():
        manual.set_setting("conventions_floor", str(corrected[0]))
        return None, True
    return conventions_from(corrected[1], "the conventions corrected at the desk"), False


def wanted_conventions(manual: Manual) -> Conventions:
    """The conventions that the manual's readings should be made with now."""
    corrected = _last_correction(manual)
    if corrected is not None:
        return conventions_from(corrected[1], "the conventions corrected at the desk")
    base = manual.setting("conventions_base") or manual.setting("conventions")
    return Conventions.model_validate_json(base) if base else Conventions()


def used_conventions(manual: Manual) -> Conventions:
    """The conventions that the manual's readings were made with."""
    used = manual.setting("conventions")
    return Conventions.model_validate_json(used) if used else Conventions()


def note_base(manual: Manual) -> None:
    """Before the first correction: what holds without any is what the readings were made with."""
    if manual.setting("conventions_base") is None:
        manual.set_setting("conventions_base", used_conventions(manual).model_dump_json())


def note_stated(manual: Manual, stated: Conventions, base: Conventions | None) -> None:
    """After a run: what it stated, and what it read with unless those were the desk's corrections (``base`` None)."""
    manual.set_setting("conventions_stated", stated.model_dump_json())
    if base is not None:
        manual.set_setting("conventions_base", base.model_dump_json())


def _last_correction(manual: Manual) -> tuple[int, str] | None:
    """(number, TOML) of the last correction that counts; None when there is none."""
    if not manual.has_harness:
        return None
    found = manual.latest_at()[1].conventions
    floor = int(manual.setting("conventions_floor") or 0)
    return found if found is not None and found[0] > floor else None
