"""The harness: what the pages say, as one model. Knows no picture."""
