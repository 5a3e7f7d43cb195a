"""``python -m digitize``: the same as the ``digitize`` command."""

from __future__ import annotations

from digitize.cli import main

if __name__ == "__main__":
    main()
