"""Scan → flat sheet: millimetres, frame, zones, title, kind."""
