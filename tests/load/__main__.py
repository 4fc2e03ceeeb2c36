"""The scenarios at their full size, for a quiet machine: `python -m tests.load [NAME ...] [--minutes 10]`."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.deployment import deployed
from tests.load import scenarios


def overload(folder: Path, minutes: float) -> Iterator[str]:
    """Four times the load that can be served."""
    with deployed(folder, redis=True) as deployment:
        yield from scenarios.overload(deployment, 60.0 * minutes).lines()


def besieged(folder: Path, minutes: float) -> Iterator[str]:
    """1,000 clients that drip, 200 that never read, others that break off or send nonsense."""
    with deployed(folder, redis=True) as deployment:
        yield from scenarios.besieged(deployment, dripping=1000, unread=200, seconds=min(6.0 * minutes, 60.0)).lines()


def restarts(folder: Path, _: float) -> Iterator[str]:
    """Ten stops and returns of a copy."""
    with deployed(folder, redis=True) as deployment:
        yield f"10 restarts, calls without repetition: {dict(scenarios.restarts(deployment, 10))}"


def kills(folder: Path, _: float) -> Iterator[str]:
    """Fifty killed workers."""
    with deployed(folder, redis=True) as deployment:
        yield f"50 killed workers, calls with the client's own repetition: {dict(scenarios.kills(deployment, 50))}"


def stuck(folder: Path, _: float) -> Iterator[str]:
    """A calculation that never ends."""
    file = folder / "stuck"
    with deployed(folder, redis=True, command=scenarios.stuck_command(file)) as deployment:
        yield from scenarios.stuck(deployment, file).lines()


SCENARIOS: dict[str, Callable[[Path, float], Iterator[str]]] = {
    each.__name__: each for each in (besieged, restarts, kills, stuck, overload)
}


def main() -> None:
    """Run them and print what came back."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(SCENARIOS))
    parser.add_argument("--minutes", type=float, default=10.0)
    options = parser.parse_args()
    for name in options.names or SCENARIOS:
        with tempfile.TemporaryDirectory(prefix="wattpair-load-") as folder:
            for line in SCENARIOS[name](Path(folder), min(options.minutes, 60.0)):
                print(f"{name}: {line}", flush=True)


if __name__ == "__main__":
    main()
