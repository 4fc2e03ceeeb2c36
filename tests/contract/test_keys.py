"""The operator's keys file: what is read, what stops the start, and how a change is taken over."""

from __future__ import annotations

import itertools
import os
import re
from pathlib import Path

import pytest

from wattpair_service.api.guards import keys
from wattpair_service.app import create_app
from wattpair_service.cli import main
from wattpair_service.settings import SettingError, Settings

OLD, NEW, ADDED = (f"wattpair_{letter * 43}" for letter in "ona")
ONE, TWO = keys.entry("crm", OLD), keys.entry("web", NEW)
BOTH = (ONE + TWO).encode()


@pytest.fixture
def keys_file(tmp_path: Path) -> Path:
    file = tmp_path / "keys.toml"
    file.write_bytes(BOTH)
    return file


def looking_each_time(file: Path, monkeypatch: pytest.MonkeyPatch) -> keys.Keyring:
    """A keyring for which ten seconds pass from one look to the next."""
    now_s = itertools.count(1e9, 10.0)
    monkeypatch.setattr("wattpair_service.api.guards.keys.time.monotonic", lambda: next(now_s))
    return keys.Keyring(file)


@pytest.mark.parametrize("content", [None, "a folder", b"\xff\xfe", b"[[key]"], ids=["gone", "a folder", "no text", "half"])
def test_an_unreadable_file_leaves_the_keys_until_it_is_back(
    keys_file: Path, content: str | bytes | None, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    ring = looking_each_time(keys_file, monkeypatch)
    keys_file.unlink()
    if isinstance(content, bytes):
        keys_file.write_bytes(content)
    elif content:
        keys_file.mkdir()
    assert all(ring.find(NEW) for _ in range(3))
    assert len([line for line in caplog.messages if "the keys stay as they were" in line]) == 1
    if keys_file.is_dir():
        keys_file.rmdir()
    keys_file.write_text(TWO)
    assert (ring.find(NEW) is not None, ring.find(OLD)) == (True, None)


def test_a_change_that_leaves_time_and_size_as_they_were_is_seen(keys_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ring, before = looking_each_time(keys_file, monkeypatch), keys_file.stat()
    keys_file.write_text(keys_file.read_text().replace(keys.hash_of(OLD), keys.hash_of(ADDED)))
    os.utime(keys_file, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert keys_file.stat().st_size == before.st_size
    assert (ring.find(ADDED) is not None, ring.find(OLD)) == (True, None)


def test_a_file_that_changes_while_it_is_read_is_read_again(keys_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read_bytes = Path.read_bytes

    def read_and_replace(file: Path) -> bytes:
        content = read_bytes(file)
        file.write_text(keys.entry("crm-2027", ADDED))
        return content

    with monkeypatch.context() as patched:
        patched.setattr(Path, "read_bytes", read_and_replace)
        ring = looking_each_time(keys_file, monkeypatch)
    assert (ring.find(ADDED) is not None, ring.find(OLD)) == (True, None)


def test_a_withdrawn_key_works_for_a_second_at_most(keys_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now_s = [1e9]
    monkeypatch.setattr("wattpair_service.api.guards.keys.time.monotonic", lambda: now_s[0])
    ring = keys.Keyring(keys_file)
    keys_file.write_text(TWO)
    now_s[0] += 0.99
    assert ring.find(OLD) is not None
    now_s[0] += 0.01
    assert ring.find(OLD) is None


INLINE = ", ".join(f'{{name = "{name}", sha256 = "{keys.hash_of(key)}"}}' for name, key in (("crm", OLD), ("web", NEW)))
CONTENTS: dict[str, bytes] = {
    "plain": BOTH,
    "CRLF": BOTH.replace(b"\n", b"\r\n"),
    "byte order mark": b"\xef\xbb\xbf" + BOTH,
    "comments": ("# since spring\n" + ONE.replace('"\n', '" # the CRM, \u00fc\n') + "\n\n" + TWO).encode(),
    "no last line break": BOTH.rstrip(b"\n"),
    "all at once": ("\ufeff# \r\n" + ONE + "\t\n" + TWO.replace("[[key]]", " [[ key ]]")).encode(),
    "inline tables": f"key = [{INLINE}]".encode(),
}
NAMES = ["a b;$(x)'\".toml", "two\nlines.toml", "\u00fc\u202e.toml"]


@pytest.mark.parametrize(
    ("name", "content"), [*(("keys.toml", each) for each in CONTENTS), *((each, "plain") for each in NAMES)]
)
def test_a_file_as_editors_leave_it_is_read(tmp_path: Path, name: str, content: str) -> None:
    file = tmp_path / name
    file.write_bytes(CONTENTS[content])
    assert [(key.name, key.sha256) for key in keys.read(file)] == [("crm", keys.hash_of(OLD)), ("web", keys.hash_of(NEW))]


def test_lines_of_the_command_may_follow_a_line_that_does_not_end(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["key", "web"]) == 0
    file = tmp_path / "keys.toml"
    file.write_text(ONE.rstrip("\n") + capsys.readouterr().out)
    assert [key.name for key in keys.read(file)] == ["crm", "web"]


def test_the_command_needs_no_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATTPAIR_HOST", "0.0.0.0")  # as in the image, where nobody has a key yet
    assert main(["key", "crm"]) == 0
    assert main(["serve"]) == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "one or more"),
        ("[[key]]\n", "must have name and sha256"),
        ("[[key]", "is not TOML"),
        (keys.entry("a b", OLD), "name must be 1 to 40 letters"),
        ('[[key]]\nname = "crm"\nsha256 = "abc"\n', "64 lower-case hexadecimal digits"),
        (ONE + keys.entry("crm", NEW), "the same name twice"),
        (ONE + keys.entry("web", OLD), "the same sha256 twice"),
        (ONE + "requests_per_minute = true\n", "a whole number from 1"),
        (ONE + 'key = "secret"\n', "must have name and sha256"),
        ("key = " + "[" * 5000, "is not TOML"),
        (ONE.replace("\n", "\r"), "is not TOML"),
        (ONE + 'name = "web"\n', "is not TOML"),
        ('[[Key]]\nname = "crm"\n', "one or more"),
    ],
    ids=range(13),
)
def test_a_bad_keys_file_stops_the_start_with_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], text: str, message: str
) -> None:
    (tmp_path / "keys.toml").write_text(text)
    monkeypatch.setenv("WATTPAIR_KEYS_FILE", str(tmp_path / "keys.toml"))
    assert main(["serve"]) == 2
    told = capfd.readouterr().err
    assert re.search(message, told)
    assert told.count("\n") == 1


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("none.toml", "cannot be read: No such file"),
        ("two\nlines.toml", r"two\\nlines.toml' cannot be read"),
        ("nul\x00.toml", "no file can have this name"),
        ("", "is no ordinary file"),
        ("pipe", "is no ordinary file"),
        ("x" * 300, "File name too long"),
    ],
    ids=range(6),
)
def test_what_is_no_keys_file_stops_the_start_with_one_line(tmp_path: Path, name: str, message: str) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(SettingError, match=message) as error:
        create_app(Settings(keys_file=tmp_path / name))
    assert "\n" not in str(error.value)
