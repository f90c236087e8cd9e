"""Any discrete network, many cases at once: an exact tree of buckets, compiled once, run over batches."""
