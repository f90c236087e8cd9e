"""Requests about cases for tests: the plainest ones, and the one shape of an error."""

from __future__ import annotations

COMPLAINT = {"circuit": "belt-reminder", "symptom": "lamp-stays-dark", "words": "stays dark"}
LIT = {"kind": "finding", "body": {"test": "look.belt-lamp.prove-out", "outcome": "lit"}}
CLOSED = {"kind": "closed", "body": {"cause": "switch", "correction": "new one", "cause_status": "confirmed"}}


def problem(response, status: int, kind: str, *more: str) -> dict[str, object]:
    """Check the one shape of an error and give it."""
    body = response.get_json()
    assert (response.status_code, response.mimetype) == (status, "application/problem+json"), body
    assert set(body) == {"type", "title", "status", "detail", "errors", *more}
    assert (body["type"], body["status"]) == (f"/problems/{kind}", status)
    return body


def opened(client, **change) -> str:
    """Open a case and give its address."""
    response = client.post("/v1/cases", json={**COMPLAINT, **change})
    assert response.status_code == 201, response.get_json()
    return response.headers["Location"]


def add(client, address, *events, seen='"1"', **headers):
    """Add events to a case."""
    sent = {"If-Match": seen, **headers} if seen else headers
    return client.post(f"{address}/events", json={"events": list(events)}, headers=sent)
