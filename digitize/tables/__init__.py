"""Connector charts, alphabetical indexes, legend pages."""
