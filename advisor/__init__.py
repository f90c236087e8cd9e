"""Bayesian symptom-to-cause advisor for vehicle electrical complaints.

>>> import advisor
>>> model = advisor.load("belt-reminder")
>>> findings = [{"symptom": "lamp-stays-dark"}]
>>> answer = advisor.advise(model, {"circuit": "belt-reminder", "findings": findings})
>>> answer.next.kind
'test'
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from advisor.engine import advise, load, shipped_engine
    from advisor.errors import (
        AdvisorError,
        CircuitError,
        ImpossibleFindingsError,
        KnowledgeError,
        RequestError,
        UnknownModelError,
    )
    from advisor.knowledge.model import Model

__all__ = [
    "AdvisorError",
    "CircuitError",
    "ImpossibleFindingsError",
    "KnowledgeError",
    "Model",
    "RequestError",
    "UnknownModelError",
    "advise",
    "load",
    "shipped_engine",
]
_MODULES = {"advise": "engine", "load": "engine", "shipped_engine": "engine", "Model": "knowledge.model"}


def __getattr__(name: str) -> object:
    """Give a public name, loaded when it is first used, so that a command can set up its process before numpy is."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(f"{__name__}.{_MODULES.get(name, 'errors')}"), name)
    return found
