"""What factors make of orders: how likely each is, and which causes were likely before anything was repaired."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.network.worlds import Floats
from advisor.refit.counted import Counted, Shelf
from advisor.refit.fitting import orders, shared
from advisor.refit.terms import Terms
from advisor.refit.weights import names


def log_chances(counted: Counted, factors: Floats) -> Floats:
    """Log P(pattern | complaint; factors) up to what does not depend on factors [nat], shape (N,)."""
    terms = np.exp(counted.every_degree @ np.log(factors))
    whole = (counted.usual_cells @ terms)[counted.stratum]
    found: Floats = np.log(counted.special + (counted.share_cells @ terms) / whole)
    return found


def every_cause(circuits: Mapping[str, Terms]) -> tuple[tuple[str, str], ...]:
    """Circuit and cause of each of all causes, circuit by circuit."""
    return tuple((name, cause) for name, terms in circuits.items() for cause in terms.model.compiled.causes)


def cause_chances(counted: Counted, factors: Floats, shelf: Shelf) -> sparse.csr_array:
    """P(cause | what the pattern tells; factors), shape (N, all causes); several causes may be there together."""
    holds = sparse.csr_array(sparse.block_diag([terms.holds for terms in shelf.terms.values()]))
    shares = orders(counted, shared(counted, factors)) / counted.count[counted.row_of]
    own = sparse.csr_array((shares, counted.share.indices, counted.share.indptr), shape=counted.share.shape)
    return sparse.csr_array(own @ holds)


def labels(causes: Sequence[tuple[str, str]], every: Mapping[tuple[str, str], int]) -> sparse.csr_array:
    """1 where a cause was confirmed, shape (N, all causes), from (circuit, causes) of each order."""
    cells = [(row, every[circuit, name]) for row, (circuit, text) in enumerate(causes) for name in names(text)]
    at = np.array(cells, dtype=np.intp).reshape(-1, 2).T
    return sparse.csr_array((np.ones(at.shape[1]), (at[0], at[1])), shape=(len(causes), len(every)))
