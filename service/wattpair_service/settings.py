"""Settings, from the environment only (prefix WATTPAIR_)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from wattpair_service.report.house import HouseFileError, read_house

PREFIX = "WATTPAIR_"


class SettingError(ValueError):
    """A setting that cannot be used; one plain line."""


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings with their defaults."""

    body_limit_bytes: int = 8 * 1024 * 1024
    host: str = "127.0.0.1"
    port: int = 8080
    workers: int = 2
    station_folder: Path | None = None
    station_distance_max_km: int = 50
    sheet_file: Path | None = None

    @classmethod
    def read(cls, environment: Mapping[str, str]) -> Settings:
        """Settings of an environment; SettingError names the first bad one."""
        default = cls()
        return cls(
            body_limit_bytes=_whole(environment, "BODY_LIMIT_BYTES", default.body_limit_bytes, 1024, 1 << 30),
            host=_address(environment, "HOST", default.host),
            port=_whole(environment, "PORT", default.port, 1, 65535),
            workers=_whole(environment, "WORKERS", default.workers, 1, 256),
            station_folder=Path(folder) if (folder := environment.get(f"{PREFIX}STATION_FOLDER")) else None,
            station_distance_max_km=_whole(environment, "STATION_DISTANCE_MAX_KM", default.station_distance_max_km, 0, 1000),
            sheet_file=_sheet_file(environment.get(f"{PREFIX}SHEET_FILE")),
        )


def _sheet_file(path: str | None) -> Path | None:
    """The operator's file for the sheet, once it has been read without a fault."""
    if not path:
        return None
    try:
        read_house(Path(path))
    except HouseFileError as error:
        raise SettingError(f"{PREFIX}SHEET_FILE is {path[:80]!r}: {error}") from error
    return Path(path)


def _whole(environment: Mapping[str, str], name: str, default: int, lowest: int, highest: int) -> int:
    text = environment.get(PREFIX + name)
    if text is None:
        return default
    if not text.isascii() or not text.isdigit() or len(text) > 12 or not lowest <= int(text) <= highest:
        raise SettingError(f"{PREFIX}{name} is {text[:80]!r}; allowed is a whole number from {lowest} to {highest}")
    return int(text)


def _address(environment: Mapping[str, str], name: str, default: str) -> str:
    text = environment.get(PREFIX + name, default)
    try:
        return str(ip_address(text))
    except ValueError as error:
        raise SettingError(f"{PREFIX}{name} is {text[:80]!r}; allowed is an IP address, such as 127.0.0.1") from error
