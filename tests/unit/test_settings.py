"""Settings come from the environment, and a bad one is named in one line."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pytest

from wattpair_service import settings as module
from wattpair_service.settings import SettingError, Settings, processors

README = Path(__file__).resolve().parents[2] / "README.md"


def test_defaults_need_no_environment() -> None:
    assert Settings.read({}) == Settings()


def test_every_setting_can_be_given(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.touch()
    given = {
        "WATTPAIR_BODY_LIMIT_BYTES": "2048",
        "WATTPAIR_HOST": "0.0.0.0",
        "WATTPAIR_PORT": "9000",
        "WATTPAIR_WORKERS": "4",
        "WATTPAIR_STATION_FOLDER": "/srv/weather",
        "WATTPAIR_STATION_DISTANCE_MAX_KM": "80",
        "WATTPAIR_SHEET_FILE": str(sheet),
        "WATTPAIR_KEYS_FILE": "/srv/keys.toml",
        "WATTPAIR_WITHOUT_KEYS": "no",
        "WATTPAIR_REQUESTS_PER_MINUTE": "90",
        "WATTPAIR_REDIS_URL": "redis://127.0.0.1:6379/0",
        "WATTPAIR_QUEUE_LENGTH": "3",
        "WATTPAIR_REQUEST_TIME_MAX_S": "12",
        "WATTPAIR_CONNECTIONS_MAX": "500",
        "WATTPAIR_WORKER_REQUESTS_MAX": "1000",
    }
    settings = Settings.read(given | {"PORT": "1", "UNRELATED": "x"})
    weather, keys, redis = Path("/srv/weather"), Path("/srv/keys.toml"), "redis://127.0.0.1:6379/0"
    assert settings == Settings(2048, "0.0.0.0", 9000, 4, weather, 80, sheet, keys, False, 90, redis, 3, 12, 500, 1000)
    assert set(given) == {f"WATTPAIR_{field.name.upper()}" for field in fields(Settings)}


@pytest.mark.parametrize(
    ("name", "lowest", "highest"),
    [
        ("BODY_LIMIT_BYTES", 1024, 1 << 30),
        ("PORT", 1, 65535),
        ("WORKERS", 1, 256),
        ("STATION_DISTANCE_MAX_KM", 0, 1000),
        ("REQUESTS_PER_MINUTE", 1, 1_000_000),
        ("QUEUE_LENGTH", 0, 100),
        ("REQUEST_TIME_MAX_S", 1, 600),
        ("CONNECTIONS_MAX", 100, 100_000),
        ("WORKER_REQUESTS_MAX", 100, 1_000_000_000),
    ],
)
def test_limits(name: str, lowest: int, highest: int) -> None:
    for accepted in (lowest, highest):
        assert getattr(Settings.read({f"WATTPAIR_{name}": str(accepted)}), name.lower()) == accepted
    for refused in (lowest - 1, highest + 1):
        with pytest.raises(SettingError, match=f"WATTPAIR_{name} is '{refused}'.* from {lowest} to {highest}"):
            Settings.read({f"WATTPAIR_{name}": str(refused)})


@pytest.mark.parametrize("text", ["", " ", "8080 ", "-1", "1.5", "0x10", "٨٠٨٠", "1e3", "None", "9" * 5000])
def test_what_is_not_a_whole_number_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(SettingError) as error:
        Settings.read({"WATTPAIR_PORT": text})
    assert "WATTPAIR_PORT" in str(error.value)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize("text", ["127.0.0.1", "0.0.0.0", "::", "::1", "10.1.2.3"])
def test_a_host_is_an_address(text: str) -> None:
    assert Settings.read({"WATTPAIR_HOST": text, "WATTPAIR_WITHOUT_KEYS": "yes"}).host == text


@pytest.mark.parametrize("text", ["", "localhost", "0.0.0.0:8080", "256.1.1.1", "[::]", "unix:/run/x.sock", "-", "x" * 5000])
def test_what_is_no_address_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(SettingError, match=r"WATTPAIR_HOST is .* allowed is an IP address") as error:
        Settings.read({"WATTPAIR_HOST": text})
    assert "\n" not in str(error.value)
    assert len(str(error.value)) < 200


@pytest.mark.parametrize("environment", [{}, {"WATTPAIR_STATION_FOLDER": ""}])
def test_without_a_folder_there_are_no_stations(environment: dict[str, str]) -> None:
    assert Settings.read(environment).station_folder is None


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "10.1.2.3"])
def test_a_network_is_served_only_with_keys_or_when_told_so(host: str) -> None:
    with pytest.raises(
        SettingError, match=r"WATTPAIR_HOST is .* allowed with WATTPAIR_KEYS_FILE, or with WATTPAIR_WITHOUT_KEYS=yes"
    ):
        Settings.read({"WATTPAIR_HOST": host})
    assert Settings.read({"WATTPAIR_HOST": host, "WATTPAIR_KEYS_FILE": "/srv/keys.toml"}).keys_file
    assert Settings.read({"WATTPAIR_HOST": host, "WATTPAIR_WITHOUT_KEYS": "yes"}).without_keys
    with pytest.raises(SettingError, match="one of the two"):
        Settings.read({"WATTPAIR_WITHOUT_KEYS": "yes", "WATTPAIR_KEYS_FILE": "/srv/keys.toml"})


@pytest.mark.parametrize("text", ["", "true", "1", "YES", "y"])
def test_yes_and_no_are_the_only_words(text: str) -> None:
    with pytest.raises(SettingError, match=r"WATTPAIR_WITHOUT_KEYS is .* allowed is yes or no"):
        Settings.read({"WATTPAIR_WITHOUT_KEYS": text})


@pytest.mark.parametrize("text", ["127.0.0.1:6379", "http://127.0.0.1", "redis://", "redis://:hidden@:6379", "redis://h:99999"])
def test_what_is_no_redis_is_refused_without_showing_a_password(text: str) -> None:
    with pytest.raises(SettingError, match="WATTPAIR_REDIS_URL is no address") as error:
        Settings.read({"WATTPAIR_REDIS_URL": text})
    assert "hidden" not in str(error.value)


@pytest.mark.parametrize(
    ("files", "workers"),
    [
        ({}, 3),
        ({"cpu.max": "50000 100000"}, 1),
        ({"cpu.max": "150000 100000\n"}, 2),
        ({"cpu.max": "1000000 100000"}, 3),
        ({"cpu.max": "max 100000"}, 3),
        ({"cpu.max": "nonsense"}, 3),
        ({"cpu.max": "0 0"}, 3),
        ({"cpu/cpu.cfs_quota_us": "150000\n", "cpu/cpu.cfs_period_us": "100000\n"}, 2),
        ({"cpu/cpu.cfs_quota_us": "1000", "cpu/cpu.cfs_period_us": "100000"}, 1),
        ({"cpu/cpu.cfs_quota_us": "-1\n", "cpu/cpu.cfs_period_us": "100000\n"}, 3),
        ({"cpu/cpu.cfs_quota_us": "150000"}, 3),
        ({"cpu.max": "max 100000", "cpu/cpu.cfs_quota_us": "100000", "cpu/cpu.cfs_period_us": "100000"}, 1),
    ],
)
def test_workers_follow_the_processors_and_the_quota(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, files: dict[str, str], workers: int
) -> None:
    (tmp_path / "cpu").mkdir()
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    monkeypatch.setattr(module, "CGROUP", tmp_path)
    monkeypatch.setattr("os.sched_getaffinity", lambda _: {0, 1, 2})
    assert processors() == workers


def test_the_readme_tells_every_setting_with_its_default() -> None:
    told = dict(re.findall(r"^\| `WATTPAIR_(\w+)` \| ([^|]+) \|", README.read_text(encoding="utf-8"), re.MULTILINE))
    words = {None: "none", False: "no", True: "yes"}
    own = {
        field.name.upper(): str(words.get(value, value) if isinstance(value, bool | None) else value)
        for field in fields(Settings)
        for value in [getattr(Settings(), field.name)]
    }
    assert told == own | {"WORKERS": "one for each processor"}


def test_a_name_that_is_no_setting_is_refused() -> None:
    with pytest.raises(SettingError, match=r"'WATTPAIR_KEY_FILE' is no setting; allowed are .*WATTPAIR_KEYS_FILE"):
        Settings.read({"WATTPAIR_KEY_FILE": "/srv/keys.toml"})


@pytest.mark.parametrize("query", ["?socket_timeout=abc", "?nonsense=1", "#x"])
def test_an_address_of_redis_has_no_options(query: str) -> None:
    with pytest.raises(SettingError, match="without options"):
        Settings.read({"WATTPAIR_REDIS_URL": f"redis://127.0.0.1:6379/0{query}"})
