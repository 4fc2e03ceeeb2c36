"""Settings, from the environment only (prefix WATTPAIR_)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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

    @classmethod
    def read(cls, environment: Mapping[str, str]) -> Settings:
        """Settings of an environment; SettingError names the first bad one."""
        default = cls()
        return cls(
            body_limit_bytes=_whole(environment, "BODY_LIMIT_BYTES", default.body_limit_bytes, 1024, 1 << 30),
            host=environment.get(f"{PREFIX}HOST", default.host),
            port=_whole(environment, "PORT", default.port, 1, 65535),
            workers=_whole(environment, "WORKERS", default.workers, 1, 256),
        )


def _whole(environment: Mapping[str, str], name: str, default: int, lowest: int, highest: int) -> int:
    text = environment.get(PREFIX + name)
    if text is None:
        return default
    if not text.isascii() or not text.isdigit() or len(text) > 12 or not lowest <= int(text) <= highest:
        raise SettingError(f"{PREFIX}{name} is {text[:80]!r}; allowed is a whole number from {lowest} to {highest}")
    return int(text)
