"""Two hundred malformed requests, made by a seeded generator: each is addressed, none breaks the server."""

import copy
import json
import random

import fakes
import pytest
from pointers import names_something

CASES = 200
WRONG = {
    str: [None, True, 5, [], {}, "", "x" * 300, "\ud800", "lamp~stays/dark", "../../etc/passwd"],
    float: [None, True, "9", [], {}, float("nan"), float("inf"), -float("inf"), -1e9, 1e300, 10**400],
    bool: [None, 0, 1, "true", [], {}],
    list: [None, True, 3, "list", {}, {"0": 1}, [None], [[]], [7], ["nope"]],
    dict: [None, True, 3, "object", [], [1]],
}


def places(node: object, path: tuple = ()) -> list[tuple]:
    """Give the path of every value below a node."""
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [(*path, key) for key, _ in items] + [deep for key, item in items for deep in places(item, (*path, key))]


def holder(body: object, path: tuple):
    """Give the object or list that holds a path's last step."""
    for step in path[:-1]:
        body = body[step]
    return body


def wrong_value(body, rng):
    """Put a value of a wrong type or range somewhere."""
    path = rng.choice(places(body))
    here = holder(body, path)
    now = here[path[-1]]
    kind = bool if isinstance(now, bool) else float if isinstance(now, (int, float)) else type(now)
    here[path[-1]] = rng.choice(WRONG[kind])
    if here[path[-1]] in ([], {}) and kind in (list, dict):
        here[path[-1]] = 3  # an empty list of findings or places is a good one
    return body


def unknown_key(body, rng):
    """Add a key that nothing knows."""
    objects = [(), *(path for path in places(body) if isinstance(holder(body, path)[path[-1]], dict))]
    path = rng.choice(objects)
    here = holder(body, path)[path[-1]] if path else body
    here[rng.choice(["extra", "yeers", "", "a/b~c", "\ud800", "__class__", "prior"])] = rng.choice([1, None, {}, "x"])
    return body


def missing_key(body, rng):
    """Take a key away that is needed."""
    needed = [("circuit",), ("findings", 0, "symptom"), ("findings", 1, "test"), ("findings", 1, "outcome")]
    needed += [("findings", 2, "test"), ("findings", 2, "reading", "value"), ("findings", 3, "unit")]
    path = rng.choice(needed)
    del holder(body, path)[path[-1]]
    return body


def unknown_name(body, rng):
    """Spoil a name."""
    named = [
        ("circuit",),
        ("findings", 0, "symptom"),
        ("findings", 1, "test"),
        ("findings", 1, "outcome"),
        ("opened", 0),
    ]
    path = rng.choice([*named, ("findings", 2, "reading", "unit"), ("findings", 3, "kind")])
    here = holder(body, path)
    text = here[path[-1]]
    place = rng.randrange(len(text))
    here[path[-1]] = text[:place] + rng.choice("xq#/~ü") + text[place:]
    return body


def repeated(body, rng):
    """Answer a test or symptom a second time, or send far too many findings."""
    body["findings"] += [rng.choice(body["findings"])] * rng.choice([1, 2, 400])
    return body


def spoiled_text(body, rng):
    """Break the text itself: cut, trailing, duplicate key, deep nesting, foreign bytes."""
    text = json.dumps(body).encode()
    cut = rng.randrange(1, len(text))
    return rng.choice(
        [
            text[:cut],
            text + b"}",
            text[:-1] + b', "circuit": "belt-reminder"}',
            text.replace(b'"years": 9', b'"years": 9, "years": 10'),
            b"[" * rng.choice([20, 100_000]),
            text[:-1] + b', "deep": ' + b"[" * 40 + b"]" * 40 + b"}",
            text[:cut] + b"\xff" + text[cut:],
            text.replace(b"4200", b"042"),
            b"",
            b"NaN",
            b"9" * 6000,
        ]
    )


MUTATIONS = [wrong_value, unknown_key, missing_key, unknown_name, repeated, spoiled_text]


def malformed(seed: int) -> bytes:
    """Make one malformed request, sometimes wrong in two ways."""
    rng = random.Random(seed)
    body = copy.deepcopy(fakes.GOOD_REQUEST)
    made = MUTATIONS[seed % len(MUTATIONS)](body, rng)
    if isinstance(made, dict) and seed % 5 == 0:
        made["other"] = seed
    return made if isinstance(made, bytes) else json.dumps(made).encode()


def parsed(raw: bytes) -> object:
    """Give the values of a body as a lenient reader sees them, or None."""
    try:
        return json.loads(raw)
    except (ValueError, RecursionError):
        return None


def test_the_unbroken_request_passes(client):
    """The request that is mutated is a good one."""
    assert client.post("/v1/advice", json=fakes.GOOD_REQUEST).status_code == 200


@pytest.mark.parametrize("seed", range(CASES))
def test_malformed_requests_are_addressed(client, seed):
    """Every malformed request is answered 4xx with a pointer that names something in it."""
    raw = malformed(seed)
    response = client.post("/v1/advice", data=raw, content_type="application/json")
    assert 400 <= response.status_code < 500, raw[:300]
    errors = response.get_json()["errors"]
    assert errors, response.get_json()
    assert all(names_something(error["pointer"], parsed(raw)) for error in errors), (errors, raw[:600])
