"""Bayesian symptom-to-cause advisor for vehicle electrical complaints.

>>> import advisor
>>> model = advisor.load("belt-reminder")
>>> findings = [{"symptom": "lamp-stays-dark"}]
>>> answer = advisor.advise(model, {"circuit": "belt-reminder", "findings": findings})
>>> answer.next.kind
'test'
"""

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
