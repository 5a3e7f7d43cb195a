"""Many sheets on one machine."""
