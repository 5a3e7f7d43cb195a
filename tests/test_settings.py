"""The table of settings: defaults, bounds and faults."""

from __future__ import annotations

from dataclasses import asdict

import pytest
from hypothesis import given, settings, strategies

from digitize.settings import TABLE, Settings, SettingWrong, settings_from


def test_the_table_and_the_values_name_the_same_settings() -> None:
    assert [row.name for row in TABLE] == list(asdict(Settings()))


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.name)
def test_a_default_keeps_its_own_bounds(row) -> None:
    assert getattr(Settings(), row.name) == row.default
    assert row.low <= row.default <= row.high
    assert settings_from([f"{row.name}={row.default}"]) == Settings()


def test_every_fault_is_told_at_once() -> None:
    with pytest.raises(SettingWrong) as caught:
        settings_from(["jobs=many", "doubtful_below=20", "colour=red", "nothing"])
    for word in ("jobs", "doubtful_below", "colour", "nothing"):
        assert word in caught.value.what
    assert caught.value.exit_code == 2


@settings(deadline=None)
@given(strategies.sampled_from(TABLE), strategies.floats(-1e4, 1e4, allow_nan=False))
def test_a_value_is_taken_exactly_when_it_is_in_bounds(row, value) -> None:
    fits = row.low <= value <= row.high and (not row.whole or value == int(value))
    try:
        got = getattr(settings_from([f"{row.name}={value}"]), row.name)
    except SettingWrong:
        assert not fits
    else:
        assert fits
        assert got == value
