"""What the headers of a write say: which version of a case was seen, and the key that makes it safe to repeat."""

from __future__ import annotations

import hashlib
import re

from flask import request

from advisor.cases.book import Write
from advisor.errors import MissingVersionError
from advisor.store.records import Key
from api.caller import Caller
from api.refused import Refused

SEEN, KEY = "If-Match", "Idempotency-Key"
_KEY = re.compile(r"[\x21-\x7e]{1,200}")
_VERSION = re.compile(r"[1-9][0-9]{0,8}")


def etag(version: int) -> str:
    """Give the tag of a case's version."""
    return f'"{version}"'


def opening(body: bytes, caller: Caller) -> Write:
    """Read the headers of a write that begins something; raises Refused for a key that is none."""
    return Write(caller.shop, _key(body, caller), by=caller.name)


def changing(body: bytes, caller: Caller) -> Write:
    """Read the headers of a write to a case that exists; raises MissingVersionError where no version is named."""
    tags = request.if_match
    if tags.star_tag or not tags.as_set(include_weak=True):
        raise MissingVersionError('a change of a case says in If-Match which version of it was seen, such as "3"')
    # A tag that is no version of ours matches none; the caller then gets the whole journal as what has changed.
    seen = frozenset(int(tag) for tag in tags.as_set() if _VERSION.fullmatch(tag))
    return Write(caller.shop, _key(body, caller), seen, caller.name)


def _key(body: bytes, caller: Caller) -> Key | None:
    sent = request.headers.get(KEY)
    if sent is None:
        return None
    if not _KEY.fullmatch(sent):
        raise Refused("bad-request", f"{KEY} is 1 to 200 visible ASCII characters")
    route = f"{request.method} {request.path}"
    return Key(caller.shop, caller.token, route, sent, hashlib.sha256(body).hexdigest())
