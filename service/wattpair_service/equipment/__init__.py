"""The invented equipment and house of the demo."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any


def demo_scenario() -> dict[str, Any]:
    """Site, faces, module, microinverters, prices and sheet of the demo, with the field names of a request."""
    return tomllib.loads(resources.files(__name__).joinpath("demo.toml").read_text(encoding="utf-8"))
