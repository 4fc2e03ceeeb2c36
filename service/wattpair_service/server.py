"""The service under gunicorn."""

from __future__ import annotations

from typing import Any

from flask import Flask
from gunicorn.app.base import BaseApplication

from wattpair_service.app import create_app
from wattpair_service.settings import Settings


class _Server(BaseApplication):  # type: ignore[misc]  # gunicorn publishes no types
    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        super().__init__()

    def load_config(self) -> None:
        """Set what gunicorn needs to know."""
        options: dict[str, Any] = {
            "bind": f"{self.settings.host}:{self.settings.port}",
            "workers": self.settings.workers,
            "preload_app": True,
            # A control socket in the home directory would fail on a read-only file system.
            "control_socket_disable": True,
        }
        for name, value in options.items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        """Build the application, once, before the workers are forked."""
        return create_app(self.settings)


def serve(settings: Settings) -> None:
    """Serve until told to stop."""
    _Server(settings).run()
