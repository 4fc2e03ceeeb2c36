"""What a process computes before it serves."""

from __future__ import annotations

from flask import request

from wattpair_service.api.guards import warming
from wattpair_service.app import create_app
from wattpair_service.climate import atlas
from wattpair_service.settings import Settings


def test_warming_answers_the_examples_and_a_probe_without_counting_them() -> None:
    app, seen = create_app(Settings()), list[str | None]()
    app.before_request(lambda: seen.append(request.endpoint))
    atlas.conditions.cache_clear()
    warming.warm(app)
    assert seen == ["live"], "the examples go past the guards and the counts"
    assert atlas.conditions.cache_info().misses > 0
