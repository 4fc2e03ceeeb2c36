"""Settings come from the environment, and a bad one is named in one line."""

from __future__ import annotations

import pytest

from wattpair_service.settings import SettingError, Settings


def test_defaults_need_no_environment() -> None:
    assert Settings.read({}) == Settings()


def test_every_setting_can_be_given() -> None:
    given = {
        "WATTPAIR_BODY_LIMIT_BYTES": "2048",
        "WATTPAIR_HOST": "0.0.0.0",
        "WATTPAIR_PORT": "9000",
        "WATTPAIR_WORKERS": "4",
    }
    settings = Settings.read(given | {"PORT": "1", "UNRELATED": "x"})
    assert (settings.body_limit_bytes, settings.host, settings.port, settings.workers) == (2048, "0.0.0.0", 9000, 4)


@pytest.mark.parametrize(
    ("name", "lowest", "highest"), [("BODY_LIMIT_BYTES", 1024, 1 << 30), ("PORT", 1, 65535), ("WORKERS", 1, 256)]
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
