"""The rooms' order, their size and the states' shape: what DEVELOPERS.md promises about the house."""

from __future__ import annotations

import ast
import dataclasses
import importlib
from pathlib import Path

import pytest

PROJECT = Path(__file__).parent.parent
ORDER = (
    ("errors",),
    ("settings",),
    ("harness",),
    ("legend",),
    ("sheet",),
    ("ink",),
    ("reading",),
    ("tables",),
    ("wiring",),
    ("pipeline",),
    ("trace", "index", "export"),
    ("store",),
    ("batch",),
    ("review_ui",),
    ("cli",),
)
"""Rooms from the ground up. A room imports only from rooms in rows before its own, and from itself."""
RANK = {room: rank for rank, row in enumerate(ORDER) for room in row}
SOURCES = sorted(p for folder in ("digitize", "review_ui") for p in (PROJECT / folder).rglob("*.py"))
LONGEST = 400


def room_of(dotted: str) -> str | None:
    """The room a module belongs to; None for what is not ours or is the package itself."""
    parts = dotted.split(".")
    if parts[0] == "review_ui":
        return "review_ui"
    if parts[0] != "digitize" or len(parts) == 1:
        return None
    return "cli" if parts[1].startswith(("commands_", "__main__", "cli_")) else parts[1]


def imports_of(source: str, path: Path) -> list[tuple[str, int]]:
    """Every module of ours that a source file names in an import, with its line."""
    found: list[tuple[str, int]] = []
    for node in ast.walk(ast.parse(source, str(path))):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative imports hide the room"
            module = node.module or ""
            found += [(f"{module}.{a.name}" if module == "digitize" else module, node.lineno) for a in node.names]
    return found


def wrong_imports(source: str, path: Path, home: str | None) -> list[str]:
    """What a file imports against the order, as ``path:line: reason``."""
    wrong = []
    for module, line in imports_of(source, path):
        if module.split(".")[0] in {"fixtures", "scripts", "tests"}:
            wrong.append(f"{path}:{line}: {module} must never be imported by the product")
        room = room_of(module)
        if room is None or module == "digitize.__version__" or home is None or room == home:
            continue
        if room not in RANK:
            wrong.append(f"{path}:{line}: {room} is no room of the list")
        elif RANK[room] >= RANK[home]:
            wrong.append(f"{path}:{line}: {home} imports from {room}, which is not below it")
    return wrong


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PROJECT)))
def test_a_room_imports_only_from_rooms_below(path: Path) -> None:
    dotted = ".".join(path.relative_to(PROJECT).with_suffix("").parts)
    home = room_of(dotted.removesuffix(".__init__"))
    assert home is None or home in RANK, f"{path}: put this room in ORDER"
    assert wrong_imports(path.read_text(), path, home) == []


@pytest.mark.parametrize(
    ("home", "source"),
    [
        ("harness", "from digitize.sheet.state import Sheet"),
        ("ink", "import digitize.wiring.understand"),
        ("trace", "from digitize.export import wires"),
        ("sheet", "from digitize import cli"),
        ("reading", "def f():\n    from fixtures.scene import Scene"),
    ],
)
def test_the_order_is_really_held(home: str, source: str) -> None:
    assert wrong_imports(source, Path("made_up.py"), home)


@pytest.mark.parametrize(
    "path",
    sorted(p for d in ("digitize", "review_ui", "fixtures", "scripts", "tests") for p in (PROJECT / d).rglob("*.py")),
    ids=lambda p: str(p.relative_to(PROJECT)),
)
def test_no_module_grows_past_its_idea(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= LONGEST


@pytest.mark.parametrize(
    "room",
    [
        "harness.model",
        "harness.place",
        "harness.claim",
        *(f"{room}.state" for room in ("sheet", "ink", "reading", "tables", "wiring", "batch")),
    ],
)
def test_every_state_is_frozen_and_has_slots(room: str) -> None:
    module = importlib.import_module(f"digitize.{room}")
    states = [c for c in vars(module).values() if isinstance(c, type) and c.__module__ == module.__name__]
    states = [c for c in states if dataclasses.is_dataclass(c)]
    assert states
    for state in states:
        assert state.__dataclass_params__.frozen, state  # type: ignore[attr-defined]
        assert "__slots__" in vars(state), state


def untold_errors(source: str, path: Path) -> list[str]:
    """Errors that a public function raises itself and its docstring does not name, as ``path:line: function: error``.

    Only names that begin with a capital are classes of errors; a failed assertion is a fault of ours and no promise.
    """
    untold = []
    for node in ast.walk(ast.parse(source, str(path))):
        if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
            continue
        told = ast.get_docstring(node) or ""
        untold += [
            f"{path}:{node.lineno}: {node.name}: {error}"
            for error in raised_in(node)
            if error[0].isupper() and error != "AssertionError" and error not in told
        ]
    return untold


def raised_in(function: ast.AST) -> list[str]:
    """The names that ``raise`` stands before in a function, without those in functions inside it."""
    found = []
    for child in ast.iter_child_nodes(function):
        if isinstance(child, ast.FunctionDef | ast.Lambda | ast.ClassDef):
            continue
        if isinstance(child, ast.Raise) and child.exc is not None:
            named = child.exc.func if isinstance(child.exc, ast.Call) else child.exc
            found.append(ast.unparse(named).rsplit(".", 1)[-1])
        found += raised_in(child)
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(PROJECT)))
def test_a_docstring_names_the_errors_that_its_function_raises(path: Path) -> None:
    assert untold_errors(path.read_text(), path) == []


@pytest.mark.parametrize(
    ("source", "count"),
    [
        ('def f():\n    """Do it."""\n    if x:\n        raise NotFound("no")', 1),
        ('def f():\n    """Do it. Raises NotFound."""\n    raise errors.NotFound("no") from fault', 0),
        ('def f():\n    """Do it."""\n    raise errors.NotFound', 1),
        ('def _f():\n    """Do it."""\n    raise NotFound("no")', 0),
        ('def f():\n    """Do it."""\n    def g():\n        """Raises ValueError."""\n        raise ValueError', 0),
    ],
)
def test_the_errors_are_really_looked_for(source: str, count: int) -> None:
    assert len(untold_errors(source, Path("made_up.py"))) == count
