"""The journal of a case as a domain: what its events mean together, and the book that keeps journals."""
