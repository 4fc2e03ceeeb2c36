"""Settings come from the environment, and a bad one is named in one line."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from wattpair_service.server import options
from wattpair_service.settings import SettingError, Settings

README = Path(__file__).resolve().parents[2] / "docker" / "README.md"


@pytest.mark.parametrize("environment", [{}, {"WATTPAIR_STATION_FOLDER": ""}])
def test_defaults_need_no_environment(environment: dict[str, str]) -> None:
    assert Settings.read(environment) == Settings()
    assert Settings().station_folder is None


def test_every_setting_can_be_given(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.touch()
    given = {
        "body_limit_bytes": 2048,
        "host": "0.0.0.0",
        "port": 9000,
        "station_folder": Path("/srv/weather"),
        "station_distance_max_km": 80,
        "sheet_file": sheet,
        "keys_file": Path("/srv/keys.toml"),
        "without_keys": False,
        "requests_per_minute": 90,
        "redis_url": "redis://127.0.0.1:6379/0",
        "queue_length": 3,
        "request_time_max_s": 12,
    }
    environment = {f"WATTPAIR_{name.upper()}": str(value) for name, value in given.items()}
    settings = Settings.read(environment | {"WATTPAIR_WITHOUT_KEYS": "no", "PORT": "1", "UNRELATED": "x"})
    assert {field.name: getattr(settings, field.name) for field in fields(Settings)} == given


@pytest.mark.parametrize(
    ("name", "lowest", "highest"),
    [
        ("BODY_LIMIT_BYTES", 1024, 1 << 30),
        ("PORT", 1, 65535),
        ("STATION_DISTANCE_MAX_KM", 0, 1000),
        ("REQUESTS_PER_MINUTE", 1, 1_000_000),
        ("QUEUE_LENGTH", 0, 100),
        ("REQUEST_TIME_MAX_S", 1, 600),
    ],
)
def test_numbers_have_limits(name: str, lowest: int, highest: int) -> None:
    for accepted in (lowest, highest):
        assert getattr(Settings.read({f"WATTPAIR_{name}": str(accepted)}), name.lower()) == accepted
    for refused in (lowest - 1, highest + 1):
        with pytest.raises(SettingError, match=f"WATTPAIR_{name} is '{refused}'.* from {lowest} to {highest}"):
            Settings.read({f"WATTPAIR_{name}": str(refused)})


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "10.1.2.3"])
def test_a_network_is_served_only_with_keys_or_explicitly_without(host: str) -> None:
    allowed = "allowed with WATTPAIR_KEYS_FILE, or with WATTPAIR_WITHOUT_KEYS=yes"
    with pytest.raises(SettingError, match=f"WATTPAIR_HOST is .* {allowed}"):
        Settings.read({"WATTPAIR_HOST": host})
    assert Settings.read({"WATTPAIR_HOST": host, "WATTPAIR_KEYS_FILE": "/srv/keys.toml"}).keys_file
    settings = Settings.read({"WATTPAIR_HOST": host, "WATTPAIR_WITHOUT_KEYS": "yes"})
    assert (settings.host, settings.without_keys) == (host, True)


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_this_machine_alone_is_served_without_keys(host: str) -> None:
    assert Settings.read({"WATTPAIR_HOST": host}).host == host


NUMBER, ADDRESS = r"WATTPAIR_PORT is .* from 1 to 65535", r"WATTPAIR_HOST is .* allowed is an IP address"
REDIS = "WATTPAIR_REDIS_URL is no address"
REFUSED = [
    *(("PORT", text, NUMBER) for text in ("", " ", "8080 ", "-1", "1.5", "0x10", "٨٠٨٠", "1e3", "None", "9" * 5000)),
    *(("HOST", text, ADDRESS) for text in ("", "localhost", "0.0.0.0:8080", "256.1.1.1", "[::]", "unix:/run/x.sock", "-")),
    ("HOST", "x" * 5000, ADDRESS),
    *(("WITHOUT_KEYS", text, r"is .* allowed is yes or no") for text in ("", "true", "1", "YES", "y")),
    *(("REDIS_URL", text, REDIS) for text in ("127.0.0.1:6379", "http://127.0.0.1", "redis://", "redis://h:99999")),
    ("REDIS_URL", "redis://:hidden@:6379", REDIS),
    *(("REDIS_URL", f"redis://127.0.0.1:6379/0{end}", "without options") for end in ("?socket_timeout=abc", "?x=1", "#x")),
    ("KEY_FILE", "/srv/keys.toml", r"'WATTPAIR_KEY_FILE' is no setting; allowed are .*WATTPAIR_KEYS_FILE"),
]


@pytest.mark.parametrize(("name", "text", "says"), REFUSED, ids=lambda value: value[:30])
def test_wrong_settings_are_refused_in_one_line(name: str, text: str, says: str) -> None:
    with pytest.raises(SettingError, match=says) as error:
        Settings.read({f"WATTPAIR_{name}": text})
    assert "\n" not in str(error.value)
    assert "hidden" not in str(error.value), "a password is not shown"
    assert name != "HOST" or len(str(error.value)) < 200


def test_keys_and_without_keys_exclude_each_other() -> None:
    with pytest.raises(SettingError, match="one of the two"):
        Settings.read({"WATTPAIR_WITHOUT_KEYS": "yes", "WATTPAIR_KEYS_FILE": "/srv/keys.toml"})


@pytest.mark.parametrize("queue_length", [0, 8, 100])
def test_threads_are_there_for_all_that_waits_and_for_health_beside_it(queue_length: int) -> None:
    """With fewer, the pool would queue without bound, and health would wait behind calculations."""
    assert options(Settings(queue_length=queue_length))["threads"] > queue_length + 2


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_the_address_is_written_as_gunicorn_reads_it(host: str) -> None:
    assert options(Settings(host=host, port=81))["bind"] == (f"[{host}]:81" if ":" in host else f"{host}:81")


def test_the_readme_lists_every_setting_with_its_default() -> None:
    told = dict(re.findall(r"^\| `WATTPAIR_(\w+)` \| ([^|]+) \|", README.read_text(encoding="utf-8"), re.MULTILINE))
    words = {None: "none", False: "no", True: "yes"}
    own = {
        field.name.upper(): str(words.get(value, value) if isinstance(value, bool | None) else value)
        for field in fields(Settings)
        for value in [getattr(Settings(), field.name)]
    }
    assert told == own
