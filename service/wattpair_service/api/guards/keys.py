"""API keys: made here, kept by the operator as hashes in a file, and compared in constant time.

A key is 256 random bits. Nobody can guess one from its SHA-256, so that a slow password hash would protect nothing and would
let strangers buy seconds of processor time with every wrong key.
"""

from __future__ import annotations

import hmac
import logging
import re
import secrets
import threading
import time
import tomllib
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from wattpair_service.settings import SettingError

LOG = logging.getLogger(__name__)

KEY_PREFIX = "wattpair_"
"""Lets a secret scanner know a key that was published by mistake."""
KEY_BYTES = 32
NAME_FORM = re.compile(r"[A-Za-z0-9._-]{1,40}")
NAME_ALLOWED = "1 to 40 letters, digits, dots, hyphens and underscores"
_HASH_FORM = re.compile(r"[0-9a-f]{64}")
RATE_MOST = 1_000_000
LOOK_AGAIN_S = 1.0
"""A key that was taken out of the file works for so long at most."""
FIELDS = {"name", "sha256", "requests_per_minute"}


@dataclass(frozen=True, slots=True)
class Key:
    """A key as the service knows it: its name, its hash, and its own limit if it has one."""

    name: str
    sha256: str
    requests_per_minute: int | None = None


def new_key() -> str:
    """A fresh key."""
    return KEY_PREFIX + secrets.token_urlsafe(KEY_BYTES)


def hash_of(key: str) -> str:
    """What the file keeps of a key."""
    return sha256(key.encode()).hexdigest()


def entry(name: str, key: str) -> str:
    """The lines of the file for a key."""
    return f'[[key]]\nname = "{name}"\nsha256 = "{hash_of(key)}"\n'


def read(file: Path) -> tuple[Key, ...]:
    """The keys of a file; SettingError says in one line what is wrong with it."""
    return _keys(file, _content(file))


def _content(file: Path) -> bytes:
    """What stands in a file; only an ordinary one can be read again and again."""
    try:
        if file.is_file() or not file.exists():
            return file.read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or "no file can have this name"
        raise SettingError(f"the keys file {_quoted(file)} cannot be read: {reason}") from error
    raise SettingError(f"the keys file {_quoted(file)} is no ordinary file")


def _quoted(file: Path) -> str:
    """A path within a line: whatever stands in its name, the line stays one."""
    return repr(str(file))


def _keys(file: Path, content: bytes) -> tuple[Key, ...]:
    try:
        # Some editors put a byte order mark before the text.
        table = tomllib.loads(content.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise SettingError(f"the keys file {_quoted(file)} is not TOML in UTF-8") from error
    entries = table.get("key")
    if set(table) != {"key"} or not isinstance(entries, list) or not entries:
        raise SettingError(f"the keys file {_quoted(file)} must hold one or more [[key]] tables and nothing else")
    keys = tuple(_key(file, number, each) for number, each in enumerate(entries, 1))
    for field in ("name", "sha256"):
        if len({getattr(key, field) for key in keys}) < len(keys):
            raise SettingError(f"the keys file {_quoted(file)} holds the same {field} twice")
    return keys


def _key(file: Path, number: int, given: Any) -> Key:
    where = f"key {number} of the keys file {_quoted(file)}"
    if not isinstance(given, dict) or not {"name", "sha256"} <= set(given) <= FIELDS:
        raise SettingError(f"{where} must have name and sha256, and may have requests_per_minute")
    name, digest, rate = given["name"], given["sha256"], given.get("requests_per_minute")
    if not isinstance(name, str) or not NAME_FORM.fullmatch(name):
        raise SettingError(f"{where}: name must be {NAME_ALLOWED}")
    if not isinstance(digest, str) or not _HASH_FORM.fullmatch(digest):
        raise SettingError(f"{where}: sha256 must be 64 lower-case hexadecimal digits, as `wattpair-service key` prints them")
    if rate is not None and (type(rate) is not int or not 1 <= rate <= RATE_MOST):
        raise SettingError(f"{where}: requests_per_minute must be a whole number from 1 to {RATE_MOST}")
    return Key(name, digest, rate)


class Keyring:
    """The keys of a file, read again when it changes, so that a key is added or withdrawn without a restart.

    A file that breaks, vanishes or cannot be read any more leaves the keys as they were, and the log says so: a slip in it must
    not shut everybody out. It is tried again until it is whole.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._content = _content(file)
        self._keys = _keys(file, self._content)
        self._fault = ""
        self._look_at_s = time.monotonic() + LOOK_AGAIN_S
        self._lock = threading.Lock()

    def find(self, given: str) -> Key | None:
        """The key that was given, None where it is unknown. Every known hash is compared, whichever fits."""
        self._look_again()
        digest, found = hash_of(given), None
        for key in self._keys:
            if hmac.compare_digest(digest, key.sha256):
                found = key
        return found

    def _look_again(self) -> None:
        """Compare the file's bytes: its times and its size may stay the same over a change, or change while it is read."""
        with self._lock:
            if time.monotonic() < self._look_at_s:
                return
            self._look_at_s = time.monotonic() + LOOK_AGAIN_S
            try:
                content = _content(self._file)
                if content != self._content:
                    self._keys = _keys(self._file, content)
                    self._content = content
                    LOG.info("the keys file was read again: %d keys", len(self._keys))
                self._fault = ""
            except SettingError as error:
                if str(error) != self._fault:
                    LOG.error("the keys stay as they were: %s", error)
                self._fault = str(error)
