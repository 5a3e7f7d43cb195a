"""Zone index and search."""
