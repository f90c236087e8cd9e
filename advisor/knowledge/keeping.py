"""What a loaded model has worked out and keeps, 10 to 20 MB, and how a long-running process lets go of it."""

from __future__ import annotations

from dataclasses import replace

from advisor.knowledge.model import Model

_LARGE = ("predicted", "worlds")
_CIRCLES = ("predicted", "_worlds_at")
"""What refers to its model, which would wait for the collector with all that it keeps."""


def is_bare(model: Model) -> bool:
    """Whether nothing large has been worked out yet, under these priors or a release of others."""
    return not any(each.__dict__.keys() & {*_LARGE} for each in _with_releases(model))


def bare(model: Model) -> Model:
    """The same model with nothing worked out; the one given goes with all it keeps once nobody uses it."""
    for each in _with_releases(model):
        for key in _CIRCLES:
            each.__dict__.pop(key, None)
    model.compiled.let_go()
    return replace(model)


def _with_releases(model: Model) -> list[Model]:
    return [model, *model.__dict__.get("_releases", {}).values()]
