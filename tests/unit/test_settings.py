"""Settings come from the environment, and a bad one is named in one line."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import pytest

from wattpair_service.settings import SettingError, Settings


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
    }
    settings = Settings.read(given | {"PORT": "1", "UNRELATED": "x"})
    assert settings == Settings(2048, "0.0.0.0", 9000, 4, Path("/srv/weather"), 80, sheet)
    assert set(given) == {f"WATTPAIR_{field.name.upper()}" for field in fields(Settings)}


@pytest.mark.parametrize(
    ("name", "lowest", "highest"),
    [
        ("BODY_LIMIT_BYTES", 1024, 1 << 30),
        ("PORT", 1, 65535),
        ("WORKERS", 1, 256),
        ("STATION_DISTANCE_MAX_KM", 0, 1000),
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
    assert Settings.read({"WATTPAIR_HOST": text}).host == text


@pytest.mark.parametrize("text", ["", "localhost", "0.0.0.0:8080", "256.1.1.1", "[::]", "unix:/run/x.sock", "-", "x" * 5000])
def test_what_is_no_address_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(SettingError, match=r"WATTPAIR_HOST is .* allowed is an IP address") as error:
        Settings.read({"WATTPAIR_HOST": text})
    assert "\n" not in str(error.value)
    assert len(str(error.value)) < 200


@pytest.mark.parametrize("environment", [{}, {"WATTPAIR_STATION_FOLDER": ""}])
def test_without_a_folder_there_are_no_stations(environment: dict[str, str]) -> None:
    assert Settings.read(environment).station_folder is None
