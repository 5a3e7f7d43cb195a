"""What the marks mean: runs, ends, codes on runs, page edges; and binding all sheets into one harness."""
