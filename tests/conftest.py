"""Settings of all tests: how many examples Hypothesis draws, the order of tests, and the service that many of them ask.

Without options the examples are the same in every run. `--hypothesis-profile=release --hypothesis-seed=N` draws more of them,
others with each N. `tests/check.py --release` does this, and runs the tests marked `release` too.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

import wattpair_service  # noqa: F401 - before anything imports numpy
from tests.running import Service, service

SLOW = (HealthCheck.too_slow, HealthCheck.data_too_large)

settings.register_profile("gate", derandomize=True, database=None, deadline=None, max_examples=50, suppress_health_check=SLOW)
settings.register_profile("release", deadline=None, max_examples=200, suppress_health_check=SLOW, print_blob=True)
settings.load_profile("gate")


def pytest_addoption(parser: pytest.Parser) -> None:
    """The order is that of the files unless a number says otherwise."""
    parser.addoption("--shuffle", type=int, metavar="SEED", help="shuffle the tests of each file, and the files, by this seed")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Shuffle where asked to; tests of a file stay together, since they may share a server."""
    seed: int | None = config.getoption("--shuffle")
    if seed is not None:
        places = random.Random(seed)
        files = {item.path: places.random() for item in items}
        items.sort(key=lambda item: (files[item.path], places.random()))


@pytest.fixture(scope="session")
def shared_service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """The service under gunicorn with its default settings, for all tests that only ask it."""
    with service(tmp_path_factory.mktemp("service")) as running:
        yield running


@pytest.fixture(scope="session")
def service_url(shared_service: Service) -> str:
    """Its address."""
    return shared_service.url
