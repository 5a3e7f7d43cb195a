"""A manual's own conventions: code pattern, colours, circuits, gauges, connector prefixes, zone axes."""
