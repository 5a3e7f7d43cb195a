"""Scanned wiring pages in, a structured harness model out."""

__version__ = "0.1.0"
