"""`python -m tests.benchmarks.echo`: a bare Flask application that answers with the JSON that came, under the same gunicorn."""

from __future__ import annotations

import os

from flask import Flask, Response, jsonify, request

from wattpair_service.server import _Server, options
from wattpair_service.settings import Settings

PATH = "/echo"


class _Echo(_Server):
    def load_config(self) -> None:
        for name, value in (options(self.settings) | {"post_worker_init": lambda _: None}).items():
            self.cfg.set(name, value)

    def load(self) -> Flask:
        app = Flask("echo")

        @app.post(PATH)
        def echo() -> Response:
            return jsonify(request.get_json())

        return app


if __name__ == "__main__":
    _Echo(Settings.read(os.environ), None).run()
