"""Command line: serve, demo, contract, key."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from wattpair_service.settings import SettingError, Settings


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit status."""
    options = _parser().parse_args(arguments)
    if options.command == "key":
        return _print_key(options.name)
    if options.command == "contract":
        from wattpair_service.api.contract.contract import as_yaml

        sys.stdout.write(as_yaml())
        return 0
    try:
        settings = Settings.read(os.environ)
        if options.command == "serve":
            from wattpair_service.server import serve

            serve(settings)
            return 0
    except SettingError as error:
        print(f"wattpair-service: {error}", file=sys.stderr)
        return 2
    from wattpair_service.demo import run

    return run(as_json=options.json, sheet=options.sheet)


def _print_key(name: str) -> int:
    from wattpair_service.api.guards import keys

    if not keys.NAME_FORM.fullmatch(name):
        print(f"wattpair-service: the name {name[:80]!r} must be {keys.NAME_ALLOWED}", file=sys.stderr)
        return 2
    key = keys.new_key()
    # On stderr, so that `>> keys.toml` gets the lines and not the key.
    print(f"The key, shown this once: {key}", file=sys.stderr)
    print("\n" + keys.entry(name, key), end="")  # whether or not the file ends its last line
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="wattpair-service", description="Pairs PV modules with microinverters.")
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("serve", help="run the service under gunicorn; settings come from WATTPAIR_ variables")
    demo = commands.add_parser(
        "demo", help="start the service, design an invented house, print which unit to build and why, and write the sheet"
    )
    demo.add_argument("--json", action="store_true", help="print JSON instead of text")
    demo.add_argument(
        "--sheet",
        type=Path,
        default=Path("wattpair-sheet.html"),
        metavar="FILE",
        help="where to write the sheet",
    )
    key = commands.add_parser("key", help="make an API key: print it once, with the lines for WATTPAIR_KEYS_FILE")
    key.add_argument("name", help="who will use it; appears in the log")
    commands.add_parser("contract", help="print the OpenAPI description as YAML")
    return parser
