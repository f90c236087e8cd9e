"""Physics: circuits under faults; knows no probability."""
