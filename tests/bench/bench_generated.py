"""Requests generated from the API's own description against a running server: what breaks it, what breaks the document.

    python -m bench.bench_generated [--requests N] [--seed N]      (from tests)

Schemathesis makes requests that fit the description and requests that do not. Left at that, hardly one names a
circuit, test or case that exists; so in part of them these names are put in, as a program would send that has read
the circuits. The plan of a case is left out: one takes seconds, and who asks meanwhile is told to wait by 503.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import requests
import schemathesis
import servers
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Unsatisfiable
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi import checks

LEFT_OUT = ("planForCase",)
WRITES = ("advise", "appendEvents")
KNOWN_NAMES = 0.8
"""The share of well-formed requests that names are put into."""
LATER_CASES, TURNS = 200, 8
PLAIN = ("note", "spent", "authorised")
CHECKS = [
    not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]


@dataclass
class Shop:
    """What a caller of the API knows: circuits with their symptoms and tests, and its cases with their versions."""

    url: str
    session: requests.Session
    rng: random.Random
    circuits: list[dict] = field(default_factory=list)
    cases: dict[str, int] = field(default_factory=dict)

    def look(self) -> None:
        """Read the circuits, as any program begins."""
        listed = self.session.get(f"{self.url}/v1/circuits").json()["circuits"]
        self.circuits = [self.session.get(f"{self.url}/v1/circuits/{row['id']}").json() for row in listed]

    def sow(self, case: schemathesis.Case) -> None:
        """Put names that exist into a request."""
        operation = case.operation.definition.raw["operationId"]
        circuit = self.rng.choice(self.circuits)
        if case.path_parameters and "id" in case.path_parameters:
            about = operation == "getCircuit"
            case.path_parameters["id"] = circuit["id"] if about else self.rng.choice([*self.cases] or ["none"])
        if operation == "advise" and isinstance(case.body, dict):
            case.body = {**case.body, "circuit": circuit["id"], **self._found(circuit), "opened": [], "depth": 1}
        elif operation == "openCase" and isinstance(case.body, dict):
            symptom = self.rng.choice(circuit["symptoms"])["id"]
            case.body = {**case.body, "circuit": circuit["id"], "symptom": symptom}
            case.body.pop("comeback_of", None)
        elif operation == "appendEvents":
            self._append(case)

    def learn(self, operation: str, response: requests.Response) -> None:
        """Remember cases and their versions."""
        if operation in ("openCase", "appendEvents") and response.status_code < 300:
            self.cases[response.json()["id"]] = response.json()["version"]
            if len(self.cases) > LATER_CASES:
                self.cases.pop(next(iter(self.cases)))

    def _found(self, circuit: dict) -> dict:
        tests = self.rng.sample(circuit["tests"], self.rng.randint(0, 2))
        symptom = self.rng.choice(circuit["symptoms"])["id"]
        return {"findings": [{"symptom": symptom}, *map(self._outcome, tests)]}

    def _outcome(self, test: dict) -> dict:
        return {"test": test["id"], "outcome": self.rng.choice(test["outcomes"])["id"]}

    def _append(self, case: schemathesis.Case) -> None:
        """Name the version; events are those generated of kinds that need no names, or else a finding."""
        id = case.path_parameters["id"]
        case.headers = {**dict(case.headers or {}), "If-Match": f'"{self.cases.get(id, 1)}"'}
        if isinstance(case.body, dict) and isinstance(case.body.get("events"), list):
            plain = [
                event for event in case.body["events"] if event["kind"] in ("note", "spent", "authorised", "reopened")
            ]
            about = self.session.get(f"{self.url}/v1/cases/{id}").json().get("circuit")
            circuit = next((row for row in self.circuits if row["id"] == about), self.circuits[0])
            finding = {"kind": "finding", "body": self._outcome(self.rng.choice(circuit["tests"]))}
            case.body = {**case.body, "events": plain or [finding]}


@dataclass
class Tally:
    """What came of the requests."""

    sent: Counter = field(default_factory=Counter)
    good: Counter = field(default_factory=Counter)
    statuses: Counter = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)

    def add(self, case: schemathesis.Case, response: requests.Response) -> None:
        """Count a response and hold it against the description."""
        operation = case.operation.definition.raw["operationId"]
        self.sent[operation] += 1
        self.good[operation] += response.status_code < 300
        self.statuses[response.status_code] += 1
        try:
            case.validate_response(response, checks=CHECKS)
        except (Failure, FailureGroup) as broken:
            found = broken.exceptions if isinstance(broken, FailureGroup) else [broken]
            self.failures += [f"{operation} {response.status_code}: {failure}" for failure in found]

    def lines(self) -> Iterator[str]:
        """Give the figures."""
        yield f"{self.sent.total()} requests, {sum(n for s, n in self.statuses.items() if s >= 500)} answered 5xx"
        yield f"{len(self.failures)} responses that break the description"
        for operation in sorted(self.sent):
            yield f"  {operation}: {self.sent[operation]}, {self.share(operation):.2f} of them 2xx"
        yield "statuses: " + ", ".join(f"{status}: {count}" for status, count in sorted(self.statuses.items()))
        yield from sorted(set(self.failures))[:20]

    def share(self, operation: str) -> float:
        """Give the share of an operation's requests that were answered 2xx."""
        return self.good[operation] / max(1, self.sent[operation])


def run(url: str, token: str, count: int, number: int = 1) -> Tally:
    """Send about so many requests, those that write most often."""
    session = requests.Session()
    session.headers["Authorization"] = f"Bearer {token}"
    schema = schemathesis.openapi.from_url(f"{url}/v1/openapi.json", headers={"Authorization": f"Bearer {token}"})
    operations = [result.ok() for result in schema.get_all_operations()]
    operations = [row for row in operations if row.definition.raw["operationId"] not in LEFT_OUT]
    shop, tally = Shop(url, session, random.Random(number)), Tally()
    shop.look()
    weights = {row: 4 if row.definition.raw["operationId"] in WRITES else 1 for row in operations}
    share = count / TURNS / sum(weights.values())
    for _ in range(TURNS):
        for operation, weight in weights.items():
            for mode, part in ((GenerationMode.POSITIVE, 0.75), (GenerationMode.NEGATIVE, 0.25)):
                _send(operation, mode, max(1, round(share * weight * part)), shop, tally)
    return tally


def _send(operation, mode: GenerationMode, count: int, shop: Shop, tally: Tally) -> None:
    """Send requests of one operation; some have nothing that could be wrong."""

    @seed(shop.rng.randrange(2**32))
    @settings(
        max_examples=count,
        phases=[Phase.generate],
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def each(case) -> None:
        if mode is GenerationMode.POSITIVE and shop.rng.random() < KNOWN_NAMES:
            shop.sow(case)
        response = case.call(base_url=shop.url, session=shop.session)
        tally.add(case, response)
        shop.learn(operation.definition.raw["operationId"], response)

    try:
        each()
    except Unsatisfiable:
        assert mode is GenerationMode.NEGATIVE


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--requests", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = str(Path(folder) / "cases.sqlite")
        token = servers.a_token(place)
        with servers.waitress(place, Path(folder), "--tokens", "--rate", "0", engine=servers.SHIPPED) as served:
            print(*run(f"http://127.0.0.1:{served.port}", token, options.requests, options.seed).lines(), sep="\n")


if __name__ == "__main__":
    main()
