"""One SQLite file for each manual."""
