"""Following RFC 6901 pointers, for tests that check where an error points."""

from __future__ import annotations

from urllib.parse import unquote


def names_something(pointer: str, document: object) -> bool:
    """Tell whether a pointer resolves in a document, or names a key that its last object lacks."""
    assert pointer.startswith("#"), pointer
    tokens = [
        unquote(t, errors="surrogatepass").replace("~1", "/").replace("~0", "~") for t in pointer[1:].split("/")[1:]
    ]
    here = document
    for place, token in enumerate(tokens):
        if isinstance(here, list):
            if not token.isdigit() or int(token) >= len(here):
                return False
            here = here[int(token)]
        elif isinstance(here, dict):
            if token not in here:
                return place == len(tokens) - 1
            here = here[token]
        else:
            return False
    return True
