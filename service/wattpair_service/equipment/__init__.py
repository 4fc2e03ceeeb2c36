"""The demo's invented scenario."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any


def demo_scenario() -> dict[str, Any]:
    """Site, faces, module and microinverters of the demo, as a request would write them."""
    return tomllib.loads(resources.files(__name__).joinpath("demo.toml").read_text(encoding="utf-8"))
