"""Follow a circuit from load to feed and ground."""
