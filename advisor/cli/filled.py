"""The pages that commands write, as templates to be filled."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template


@cache
def template(name: str) -> Template:
    """Give a template of this package; what it names and nobody gives is an error."""
    loader = PackageLoader("advisor.cli")
    return Environment(
        loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    ).get_template(name)
