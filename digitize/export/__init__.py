"""One file for each export format."""
