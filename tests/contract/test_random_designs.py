"""Whatever is asked for as a design or an order, it can be told in every form, language and paper; `forms.py` asks for more."""

from __future__ import annotations

from flask.testing import FlaskClient
from hypothesis import given, settings, strategies as st

from tests.contract.bodies import PATHS, Body
from tests.contract.forms import forms_of_a_design, forms_of_an_order
from tests.contract.random_requests import designs, orders
from tests.running import Answer


@settings(max_examples=max(settings().max_examples // 8, 8))
@given(designs(), orders(), st.integers(0, 3))
def test_every_form_of_a_random_request_is_given(client: FlaskClient, design: Body, order: Body, number: int) -> None:
    def post(operation_id: str, body: Body, form: str) -> Answer:
        response = client.post(PATHS[operation_id], json=body, headers={"Accept": form})
        return Answer(response.status_code, {}, response.get_data())

    assert forms_of_a_design(post, design, with_pdf=number == 0)["JSON 200"] == 1
    assert forms_of_an_order(post, order).total() == 2
