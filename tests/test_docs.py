"""The documents tell the truth: what a person can type, set, read or be told stands in them."""

from __future__ import annotations

import importlib
import pkgutil
import re
import subprocess
from pathlib import Path

import pytest
import typer.main

import digitize
from digitize.cli import app
from digitize.errors import DigitizeError
from digitize.export.forms import FORMS
from digitize.export.graphml import graph_of
from digitize.export.lists import WIRE_COLUMNS, ZONE_COLUMNS
from digitize.harness.checks import CHECKS
from digitize.settings import TABLE
from fixtures.small_harness import small_harness

PROJECT = Path(__file__).parent.parent
README = (PROJECT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")
COMMANDS = typer.main.get_command(app).commands  # type: ignore[attr-defined]
OPTIONS = sorted(
    {
        (name, o)
        for name, c in COMMANDS.items()
        for p in c.params
        for o in p.opts
        if o.startswith("--") and o != "--help"
    }
)


def every_fault() -> set[type[DigitizeError]]:
    """All faults the program knows, of every module."""
    for module in pkgutil.walk_packages(digitize.__path__, "digitize."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    found: set[type[DigitizeError]] = set()
    todo = [DigitizeError]
    while todo:
        fault = todo.pop()
        found.add(fault)
        todo += fault.__subclasses__()
    return found


def test_the_readme_opens_with_the_job_in_one_paragraph_and_two_commands() -> None:
    blocks = [b for b in README.split("\n\n") if b.strip()]
    assert blocks[0].startswith("# digitize")
    assert len(blocks[1].splitlines()) <= 10
    commands = [line.split("#")[0].strip() for line in blocks[2].splitlines()]
    assert commands == ["scripts/demo", "scripts/test"]
    assert all((PROJECT / c).stat().st_mode & 0o111 for c in commands)


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_is_explained(name: str) -> None:
    assert f"`digitize {name} " in README


@pytest.mark.parametrize(("command", "option"), OPTIONS, ids=lambda v: v)
def test_every_option_is_explained(command: str, option: str) -> None:
    assert re.search(rf"`[^`]*{option}\b[^`]*`", README), f"{option} of {command}"


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.name)
def test_every_setting_stands_in_the_table_as_it_is(row) -> None:
    assert f"| `{row.name}` | {row.default:g} | {row.unit} | {row.help} |" in README


def test_every_exit_code_stands_in_the_table_and_no_other() -> None:
    table = README.split("## Exit codes")[1].split("\n## ")[0]
    told = {int(code) for code in re.findall(r"^\| (\d+) \|", table, re.MULTILINE)}
    assert told == {fault.exit_code for fault in every_fault()} | {0, 1, 2, 130}


@pytest.mark.parametrize("name", [*FORMS, *WIRE_COLUMNS, *ZONE_COLUMNS])
def test_every_export_form_and_column_is_explained(name: str) -> None:
    exports = README.split("## Exports")[1].split("\n## ")[0]
    assert f"`{name}`" in exports or f"`--as {name}`" in exports


def test_every_attribute_of_the_graph_is_explained() -> None:
    told = README.split("Attributes of the graph:")[1].split("\n\n")[0]
    graph = graph_of(small_harness())
    used = {name for of in (graph.nodes, graph.edges) for _, had in of.items() for name in had} | set(graph.graph)
    assert used == set(re.findall(r"`(\w+)`", told))


@pytest.mark.parametrize("check", CHECKS.values(), ids=lambda check: check.id)
def test_every_check_is_explained_as_it_says_itself(check) -> None:
    assert f"| `{check.id}` | {check.severity} | {check.meaning} |" in README


def test_every_script_is_listed() -> None:
    listed = (PROJECT / "scripts" / "README.md").read_text(encoding="utf-8")
    scripts = [p.name for p in (PROJECT / "scripts").iterdir() if p.is_file() and p.suffix != ".md"]
    for name in scripts:
        if name not in {"__init__.py", "environment.sh"}:
            assert name in listed, f"scripts/README.md does not name {name}"


def test_every_room_is_explained_to_developers() -> None:
    rooms = {p.name for p in (PROJECT / "digitize").iterdir() if (p / "__init__.py").exists()}
    for room in rooms - {"_review_static"}:
        assert f"`{room}/`" in DEVELOPERS


def test_files_that_the_documents_name_are_there() -> None:
    for text in (README, DEVELOPERS):
        for name in re.findall(r"`((?:digitize|scripts|tests|fixtures)/[\w/.-]+)`", text):
            assert (PROJECT / name.rstrip("/")).exists(), name


def test_the_conventions_shown_in_the_readme_are_valid() -> None:
    from digitize.legend.conventions import conventions_from

    blocks = re.findall(r"(?:^    .*\n|^\n)+", README, re.MULTILINE)
    shown = next(b for b in blocks if "[code]" in b)
    conventions = conventions_from(re.sub(r"^    ", "", shown, flags=re.MULTILINE), "README.md")
    assert conventions.colours["RED"] == "red"
    assert conventions.pages[0].kind == "chart"


def text_files() -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard"], cwd=PROJECT, check=True, capture_output=True, text=True
    ).stdout.split("\n")
    binary = {".png", ".jpg", ".onnx", ".npz", ".gz", ".ttf", ".otf", ".pdf"}
    return [PROJECT / f for f in listed if f and Path(f).suffix not in binary and (PROJECT / f).is_file()]


UNFINISHED = (
    "TO" + "DO",
    "FIX" + "ME",
    "X" + "XX",
    "HA" + "CK",
    "(?i:lorem ip" + "sum)",
    "(?i:tran" + "script)",
    "(?i:seed docu" + "ment)",
)


def test_nothing_is_left_unfinished_or_tied_to_one_machine() -> None:
    words = re.compile("|".join(rf"\b{w}\b" for w in UNFINISHED) + "|/home" + r"/\w+|/wo" + r"rk/\w+")
    for path in text_files():
        if path.name == "package-lock.json":
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            found = words.search(line)
            assert not found, f"{path.relative_to(PROJECT)}:{number}: {found[0]}"
