"""Asks for circuits and bills of materials as a caller does, without a network."""

from __future__ import annotations

from functools import cache
from http import HTTPStatus
from typing import Any

from flask.testing import FlaskClient

from wattpair_service.app import create_app
from wattpair_service.settings import Settings

Body = dict[str, Any]
MASSES: Body = {"module_mass_kg": 21.0, "unit_mass_kg": 1.1}


@cache
def _client() -> FlaskClient:
    return create_app(Settings()).test_client()


def _ask(path: str, body: Body, expected: HTTPStatus) -> Body:
    response = _client().post(path, json=body)
    assert response.status_code == expected, response.get_data(as_text=True)
    answer: Body = response.get_json()
    return answer


def body_of(region: str, *units: int, current_a: float = 1.6, **fields: Any) -> Body:
    """A request for so many modules on each face."""
    faces = [{"name": f"face {index}", "module_count": count} for index, count in enumerate(units)]
    return {"region": region, "faces": faces, "unit_ac_current_a": current_a} | fields


def circuits_of(body: Body) -> Body:
    """The answer of POST /v1/circuits."""
    return _ask("/v1/circuits", body, HTTPStatus.OK)


def bill_of(body: Body) -> Body:
    """The answer of POST /v1/bill-of-materials."""
    return _ask("/v1/bill-of-materials", MASSES | body, HTTPStatus.OK)


def plan(region: str, *units: int, current_a: float = 1.6, **fields: Any) -> Body:
    """Circuits of so many modules on each face."""
    return circuits_of(body_of(region, *units, current_a=current_a, **fields))


def order(region: str, *units: int, current_a: float = 1.6, **fields: Any) -> Body:
    """The bill of so many modules on each face."""
    return bill_of(body_of(region, *units, current_a=current_a, **fields))


def refused(region: str, *units: int, current_a: float = 1.6, **fields: Any) -> dict[str, str]:
    """What is allowed, by the pointer of each field that was refused."""
    answer = _ask("/v1/circuits", body_of(region, *units, current_a=current_a, **fields), HTTPStatus.UNPROCESSABLE_ENTITY)
    return {error["pointer"]: error["allowed"] for error in answer["errors"]}


def cable(answer: Body, name: str) -> Body:
    """The one check of a cable."""
    (found,) = [each for each in answer["cables"] if each["cable"] == name]
    return dict(found)


def check(answer: Body, name: str) -> Body:
    """The one check of the connection of this name."""
    (found,) = [each for each in answer["connection"]["checks"] if each["name"] == name]
    return dict(found)


def device(answer: Body, role: str) -> Body:
    """The one kind of device of a role."""
    (found,) = [each for each in answer["devices"] if each["role"] == role]
    return dict(found)


def fit(answer: Body, route: str) -> Body:
    """How the design fits a procedure."""
    (found,) = [each for each in answer["connection"]["routes"] if each["route"] == route]
    return dict(found)


def specifications(bill: Body, role: str) -> set[str | None]:
    """What a bill lists of a role."""
    return {line["specification"] for line in bill["lines"] if line["role"] == role}
