"""A table of orders against its rules, by pandera: all reasons of all rows at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

import pandas as pd
import pandera.pandas as pandera

from advisor.knowledge.model import Model
from advisor.refit.columns import MOMENTS, NUMBERS, ORDER_COLUMNS
from advisor.refit.mapped import Meant
from advisor.refit.raw_table import Reason
from advisor.refit.rules import Found, Rule, duplicates, rules


def check(meant: Meant, load: Callable[[str], Model], now: datetime) -> tuple[Reason, ...]:
    """Give every reason why a row cannot be accepted; a cell whose form is bad already is not judged again."""
    found = {*meant.reasons, *_judged(meant, rules(load, now))}
    good = frozenset(meant.orders.index.tolist()) - {reason.line for reason in found}
    return tuple(sorted(found.union(_judged(meant, [duplicates(good)]))))


def _judged(meant: Meant, judges: Sequence[Rule]) -> list[Reason]:
    """Validate lazily; pandera names column, check and line of each failure, the rule what was wrong."""
    said: dict[tuple[str, str], Found] = {}
    try:
        _schema(judges, meant.orders, said).validate(meant.orders, lazy=True)
    except pandera.errors.SchemaErrors as errors:
        failures = errors.failure_cases
        return [
            Reason(int(line), *meant.place[column], name, said[column, name][int(line)])
            for column, name, line in zip(failures["column"], failures["check"], failures["index"], strict=True)
        ]
    return []


def _schema(
    judges: Sequence[Rule], orders: pd.DataFrame, said: dict[tuple[str, str], Found]
) -> pandera.DataFrameSchema:
    def check_of(rule: Rule) -> pandera.Check:
        """A rule as a check of its column."""

        def holds(column: pd.Series) -> pd.Series:
            """Which rows are right; what is wrong with the others is kept."""
            found = said[rule.column, rule.name] = said.get((rule.column, rule.name), {}) | rule.wrong(orders)
            return pd.Series(~column.index.isin(list(found)), index=column.index)

        return pandera.Check(holds, name=rule.name, ignore_na=False)

    kinds = {**dict.fromkeys(NUMBERS, "float64"), **dict.fromkeys(MOMENTS, "datetime64[us, UTC]")}
    columns = {
        name: pandera.Column(
            kinds.get(name, "str"), [check_of(rule) for rule in judges if rule.column == name], nullable=True
        )
        for name in ORDER_COLUMNS
    }
    return pandera.DataFrameSchema(columns, index=pandera.Index("int64", unique=True), strict=True)
