"""One spelling for a record: canonical JSON (RFC 8785), sealed with its own SHA-256."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import rfc8785

from thermoforming.guard import Refused
from thermoforming.record.errors import Damaged

_whole: set[str] = set()  # hashes of bytes that were found whole, so that pages stay quick
LARGEST = 2**53 - 1  # whole numbers beyond this do not survive every reader of JSON


def digest(data: bytes) -> str:
    """SHA-256 as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def seal(content: Mapping) -> bytes:
    """The bytes of a record: its content and, under `sha256`, the hash of that content."""
    body = {key: value for key, value in plain(content).items() if key != "sha256"}
    return rfc8785.dumps({**body, "sha256": digest(rfc8785.dumps(body))})


def unseal(data: bytes, path: Path) -> tuple[dict, str]:
    """Content and hash of a sealed record; every single bit of it is accounted for.

    Raises
    ------
    Damaged
        If it is cut short, is not JSON, is spelled otherwise or does not match its hash.
    """
    proof = digest(data)
    if proof in _whole:  # these very bytes have been accounted for before
        content = json.loads(data)
        sha256 = content.pop("sha256")
        return content, sha256
    try:
        content = json.loads(data.decode("utf-8"))
        sha256 = content.pop("sha256")
        body = rfc8785.dumps(content)
        whole = rfc8785.dumps({**content, "sha256": sha256})
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise Damaged(path, "is not whole: it is cut short or was changed. " + ADVICE) from None
    if digest(body) != sha256 or whole != data:
        raise Damaged(path, "was changed after it was written: its content does not match its "
                            "hash. " + ADVICE)
    _whole.add(proof)
    return content, sha256


ADVICE = ("Put back the file from a backup or from an exported zip of this project. If there is "
          "none, move it out of the project and decide again; nothing else is affected by it.")


def plain(value, where: str = "content"):
    """`value` as plain JSON data: dicts, lists, text, finite numbers, true, false, null.

    Bands become `{low, typical, high}`, arrays become lists.

    Raises
    ------
    Refused
        If something in it cannot be kept; the message says where.
    """
    if value is None or isinstance(value, bool | np.bool_):
        return None if value is None else bool(value)
    if isinstance(value, str):
        return _text(value, where)
    if isinstance(value, int | float | np.integer | np.floating):
        return _number(value, where)
    if isinstance(value, Mapping):
        return {_key(key, where): plain(item, f"{where}.{key}") for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist(), where)
    if isinstance(value, list | tuple):
        return [plain(item, f"{where}[{i}]") for i, item in enumerate(value)]
    if all(hasattr(value, name) for name in ("low", "typical", "high")):
        return {name: _number(getattr(value, name), f"{where}.{name}")
                for name in ("low", "typical", "high")}
    raise Refused(where, f"{where} is a {type(value).__name__}, which a record cannot hold.")


def _number(value, where: str):
    number = int(value) if isinstance(value, int | np.integer) else float(value)
    if isinstance(number, float) and not math.isfinite(number):
        raise Refused(where, f"{where} must be finite, but it is {number}.")
    if isinstance(number, int) and abs(number) > LARGEST:
        raise Refused(where, f"{where} is {number}, too large a whole number to be kept exactly.")
    return number


def _text(value: str, where: str) -> str:
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise Refused(where, f"{where} holds half a character, which cannot be kept. Type it "
                             "again.") from None
    return str(value)


def _key(key, where: str) -> str:
    if not isinstance(key, str):
        raise Refused(where, f"{where} has the key {key!r}, but keys must be text.")
    return _text(key, where)
