"""The network that comes along as an example, behind the contract, loaded once."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from advisor.contract.engine import Engine
from advisor.decision.advise import decide
from advisor.knowledge.loading import load_model
from advisor.knowledge.model import Model
from advisor.knowledge.shipped import shipped

WIN95 = shipped("models") / "examples" / "win95pts.yaml"


@cache
def folder() -> Path:
    """Where its converted network is kept while the tests run."""
    return Path(mkdtemp())


@cache
def win95() -> Model:
    """The example with fewer fault sets than usual."""
    return load_model(WIN95, folder(), 400)


def engine() -> Engine:
    """The example on a shelf of its own."""
    return Engine(lambda: {"win95pts": WIN95}, lambda _: win95(), decide)
