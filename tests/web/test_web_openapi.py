"""OpenAPI is true to behaviour: generated requests are answered as it declares."""

from __future__ import annotations

import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.specs.openapi.checks import positive_data_acceptance

from etui.web import create_app
from etui.web.desk import Desk

desk = Desk()
desk.warm()
schema = schemathesis.openapi.from_asgi("/api/openapi.json", create_app(desk))


@schema.exclude(path="/api/compose").parametrize()
@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_generated_requests_are_answered_as_declared(case: schemathesis.Case) -> None:
    # What is sound in form may still name no procedure or no stock: that is a declared 422.
    case.call_and_validate(excluded_checks=[positive_data_acceptance])


def test_every_operation_declares_its_errors_as_problems() -> None:
    paths = create_app(desk).openapi()["paths"]
    assert paths
    for path, operations in paths.items():
        for method, operation in operations.items():
            if method == "post":
                assert {"413", "422"} <= set(operation["responses"]), path
            if "{" in path:
                assert "404" in operation["responses"], path
            for status, answer in operation["responses"].items():
                if status.startswith(("4", "5")):
                    assert list(answer["content"]) == ["application/problem+json"], (path, status)
