"""The refit command on the cases of a store."""

import json
from datetime import UTC, datetime

import fakes
import pytest
from click.testing import CliRunner
from journals import AT, journal, opened
from shipped_models import small_model

from advisor.cases.order_book import OrderBook
from advisor.cli import main
from advisor.contract.case_queries import OrdersQuery
from advisor.refit.candidate import digest
from advisor.refit.intake import intake
from advisor.store.records import CaseRow
from advisor.store.store import Store

WORK = [
    ("finding", {"test": "look.belt-lamp.prove-out", "outcome": "dark"}),
    ("repair", {"repair": "repair-F8", "result": "stays"}),
    ("finding", {"test": "look.belt-lamp.prove-out", "outcome": "dark"}),
    ("repair", {"repair": "replace-buckle", "result": "gone"}),
    ("closed", {"cause": "buckle", "correction": "replaced", "cause_status": "believed", "causes": []}),
]


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Give a runner of commands on a store of its own."""
    monkeypatch.setenv("ADVISOR_STORE", str(tmp_path / "cases.sqlite"))
    return lambda *words: CliRunner().invoke(main, ["refit", "--depth", "1", *map(str, words)])


@pytest.fixture
def store(tmp_path):
    """Two closed cases of a shop in which a test was answered again after a repair, one of another, one still open."""
    store = Store(str(tmp_path / "cases.sqlite"))
    for number, (shop, done) in enumerate([("north", 5), ("north", 5), ("south", 5), ("north", 4)]):
        events = (opened(reference=f"A-{number}"), *journal(*WORK[:done])[1:])
        state = "closed" if done == len(WORK) else "open"
        row = CaseRow(f"case-{number}", shop, "belt-reminder", None, state, AT, AT, len(events))
        store.write(lambda journals, row=row, events=events: journals.open(row, events))
    yield store
    store.close()


def test_closed_cases_are_learned_from_as_the_export_of_them(run, store, tmp_path):
    """The shop's closed cases straight from the store are the very orders of their export, and all can be weighed."""
    done = run("--shop", "north", "--json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    assert told["orders"]["accepted"] == 2
    assert told["evaluation"]["refused"] == 0
    file = tmp_path / "export.csv"
    file.write_text(str(OrderBook(store, fakes.engine(), lambda: AT).export("north", OrdersQuery())), newline="")
    exported = intake(file, small_model, datetime(2030, 1, 1, tzinfo=UTC))
    assert (digest(exported.patterns), exported.rows) == (told["orders"]["digest"], 2)


def test_orders_come_from_one_place(run, store):
    """A file and a shop, neither, or a shop without closed cases is told in one line."""
    for words in ((), ("orders.csv", "--shop", "north"), ("--shop", "west")):
        done = run(*words)
        assert (done.exit_code, "Traceback" in done.output) == (2, False), done.output
