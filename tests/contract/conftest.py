"""The service without a network."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

from wattpair_service.app import create_app
from wattpair_service.settings import Settings


@pytest.fixture(scope="session")
def client() -> FlaskClient:
    """A client of the service with its default settings."""
    return create_app(Settings()).test_client()
