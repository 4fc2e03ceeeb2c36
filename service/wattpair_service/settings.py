"""Settings, from the environment only (prefix WATTPAIR_)."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, fields
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

PREFIX = "WATTPAIR_"


class SettingError(ValueError):
    """A setting that cannot be used; the message is one line."""


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings with their defaults."""

    body_limit_bytes: int = 8 * 1024 * 1024
    host: str = "127.0.0.1"
    port: int = 8080
    station_folder: Path | None = None
    station_distance_max_km: int = 50
    sheet_file: Path | None = None
    keys_file: Path | None = None
    without_keys: bool = False
    requests_per_minute: int = 600
    redis_url: str | None = None
    queue_length: int = 8
    request_time_max_s: int = 30

    @classmethod
    def read(cls, environment: Mapping[str, str]) -> Settings:
        """Read the settings from the environment. Raises SettingError for the first bad one."""
        default = cls()
        settings = cls(
            body_limit_bytes=_whole(environment, "BODY_LIMIT_BYTES", default.body_limit_bytes, 1024, 1 << 30),
            host=_address(environment, "HOST", default.host),
            port=_whole(environment, "PORT", default.port, 1, 65535),
            station_folder=_path(environment, "STATION_FOLDER"),
            station_distance_max_km=_whole(environment, "STATION_DISTANCE_MAX_KM", default.station_distance_max_km, 0, 1000),
            sheet_file=_sheet_file(environment.get(f"{PREFIX}SHEET_FILE")),
            keys_file=_path(environment, "KEYS_FILE"),
            without_keys=_yes(environment, "WITHOUT_KEYS", default.without_keys),
            requests_per_minute=_whole(environment, "REQUESTS_PER_MINUTE", default.requests_per_minute, 1, 1_000_000),
            redis_url=_redis(environment, "REDIS_URL"),
            queue_length=_whole(environment, "QUEUE_LENGTH", default.queue_length, 0, 100),
            request_time_max_s=_whole(environment, "REQUEST_TIME_MAX_S", default.request_time_max_s, 1, 600),
        )
        unknown = sorted(name for name in environment if name.startswith(PREFIX) and name not in cls.names())
        if unknown:
            raise SettingError(f"{unknown[0][:80]!r} is no setting; allowed are {', '.join(sorted(cls.names()))}")
        settings.require_closed()
        return settings

    @classmethod
    def names(cls) -> frozenset[str]:
        """The variables that settings are read from."""
        return frozenset(f"{PREFIX}{each.name.upper()}" for each in fields(cls))

    def require_closed(self) -> None:
        """Raise SettingError where the service would be reachable without keys and WITHOUT_KEYS does not allow it."""
        if not ip_address(self.host).is_loopback and self.keys_file is None and not self.without_keys:
            raise SettingError(
                f"{PREFIX}HOST is '{self.host}', which others can reach; allowed with {PREFIX}KEYS_FILE, "
                f"or with {PREFIX}WITHOUT_KEYS=yes to let anyone in"
            )
        if self.keys_file is not None and self.without_keys:
            raise SettingError(f"{PREFIX}WITHOUT_KEYS is 'yes' beside {PREFIX}KEYS_FILE; allowed is one of the two")


def _refused(name: str, text: str, allowed: str) -> SettingError:
    return SettingError(f"{PREFIX}{name} is {text[:80]!r}; allowed is {allowed}")


def _sheet_file(path: str | None) -> Path | None:
    """The operator's file for the sheet, after a check that it can be read."""
    if not path:
        return None
    # The process that only starts workers does without.
    from wattpair_service.report.house import HouseFileError, read_house

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
        raise _refused(name, text, f"a whole number from {lowest} to {highest}")
    return int(text)


def _yes(environment: Mapping[str, str], name: str, default: bool) -> bool:
    text = environment.get(PREFIX + name)
    if text is None:
        return default
    if text not in ("yes", "no"):
        raise _refused(name, text, "yes or no")
    return text == "yes"


def _path(environment: Mapping[str, str], name: str) -> Path | None:
    text = environment.get(PREFIX + name)
    return Path(text) if text else None


def _address(environment: Mapping[str, str], name: str, default: str) -> str:
    text = environment.get(PREFIX + name, default)
    try:
        return str(ip_address(text))
    except ValueError as error:
        raise _refused(name, text, "an IP address, such as 127.0.0.1") from error


def _redis(environment: Mapping[str, str], name: str) -> str | None:
    text = environment.get(PREFIX + name)
    if not text:
        return None
    with suppress(ValueError):
        parts = urlsplit(text)
        if (
            parts.scheme in ("redis", "rediss")
            and parts.hostname
            and parts.port != 0
            and not parts.query
            and not parts.fragment
        ):
            return text
    # The value is not shown: it may contain a password.
    raise SettingError(
        f"{PREFIX}{name} is no address of a Redis server; allowed is redis://HOST:PORT/0, or rediss:// for TLS, without options"
    )
