"""The review desk."""
