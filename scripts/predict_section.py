"""``scripts/predict FOLDER OUT.json``: digitize a section folder with no knowledge of its truth; write the prediction.

The folder holds page images and, if there is one, ``manual.toml`` with the conventions a user would type. No other file
of it is opened.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from digitize.errors import DigitizeError, SomePagesFailed
from digitize.settings import Settings, workers
from scripts.neutral_prediction import prediction
from scripts.section import digitize_section


def main(arguments: list[str] | None = None) -> int:
    """Parse, digitize, write; the exit code is that of ``digitize``'s table."""
    parser = argparse.ArgumentParser(
        prog="scripts/predict", description="Digitize a section folder for an outside scorer."
    )
    parser.add_argument("folder", type=Path, help="page images and manual.toml")
    parser.add_argument("out", type=Path, help="the prediction to write (JSON)")
    parser.add_argument("--jobs", type=int, default=0, help="pages read at the same time; 0: one a core")
    given = parser.parse_args(arguments)
    try:
        done = digitize_section(given.folder, workers(Settings(jobs=given.jobs)))
    except DigitizeError as fault:
        print(f"predict: {fault.what} {fault.advice}", file=sys.stderr)
        return fault.exit_code
    given.out.write_text(json.dumps(prediction(done.harness, done.pages), ensure_ascii=False), encoding="utf-8")
    print(
        f"{len(done.pages.facts)} pages, {len(done.harness.wires)} wires, "
        f"{len(done.harness.connectors)} connectors, {len(done.harness.splices)} splices -> {given.out}",
        file=sys.stderr,
    )
    return SomePagesFailed.exit_code if done.unread else 0


if __name__ == "__main__":
    sys.exit(main())
