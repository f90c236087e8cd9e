"""What the headers of a write say: which version of a case was seen, and the key that makes it safe to repeat."""

from __future__ import annotations

import hashlib
import re

from flask import request
from werkzeug.exceptions import BadRequest

from advisor.cases.book import SHOP, Write
from advisor.errors import MissingVersionError
from advisor.store.records import Key

SEEN, KEY = "If-Match", "Idempotency-Key"
_KEY = re.compile(r"[\x21-\x7e]{1,200}")
_VERSION = re.compile(r"[1-9][0-9]{0,8}")


class WrongHeader(BadRequest):
    """A header is not what it should be; the description is for the caller."""


def etag(version: int) -> str:
    """Give the tag of a case's version."""
    return f'"{version}"'


def opening(body: bytes) -> Write:
    """Read the headers of a write that begins something; raises WrongHeader for a key that is none."""
    return Write(SHOP, _key(body))


def changing(body: bytes) -> Write:
    """Read the headers of a write to a case that exists; raises MissingVersionError where no version is named."""
    tags = request.if_match
    if tags.star_tag or not tags.as_set(include_weak=True):
        raise MissingVersionError('a change of a case says in If-Match which version of it was seen, such as "3"')
    # A tag that is no version of ours matches none; the caller then gets the whole journal as what has changed.
    seen = frozenset(int(tag) for tag in tags.as_set() if _VERSION.fullmatch(tag))
    return Write(SHOP, _key(body), seen)


def _key(body: bytes) -> Key | None:
    sent = request.headers.get(KEY)
    if sent is None:
        return None
    if not _KEY.fullmatch(sent):
        raise WrongHeader(f"{KEY} is 1 to 200 visible ASCII characters")
    return Key(SHOP, "", f"{request.method} {request.path}", sent, hashlib.sha256(body).hexdigest())
