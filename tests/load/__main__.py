"""The soak by hand: `python -m tests.load [--minutes 10]`."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.load.soak import soak


def main() -> None:
    """Run it and print what came back."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    minutes = parser.parse_args().minutes
    with tempfile.TemporaryDirectory(prefix="wattpair-soak-") as folder:
        print("\n".join(soak(Path(folder), 60.0 * min(minutes, 60.0)).lines()))


if __name__ == "__main__":
    main()
