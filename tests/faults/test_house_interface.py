"""The whole JSON interface under invented requests: never a server error, always the one error shape."""

import warnings

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from obverse.clock import SystemClock
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

TOKEN = "token-of-the-test"
INVENTED_PER_OPERATION = 8
# Streams do not end; they are driven by the tests of the sink.
STREAMS = ("/stream", "/live", "/events")


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    bench = open_workbench(tmp_path_factory.mktemp("home"), url="sqlite://", clock=SystemClock())
    yield create_app(bench, hosts=("testserver", "localhost", "127.0.0.1"), token=TOKEN)
    bench.close()


def complaint(answer) -> str:
    """What is wrong with an answer; empty where nothing is."""
    if answer.status_code >= 500:
        return f"server error {answer.status_code}: {answer.text[:300]}"
    if answer.status_code >= 400:
        error = answer.json().get("error", {})
        if set(error) != {"code", "sentence", "what", "where", "remedy"} or not error["sentence"].endswith("."):
            return f"another error shape: {answer.text[:300]}"
    return ""


def invented_requests(operation) -> list[str]:
    """Complaints about the answers to some invented requests of one operation."""
    found = []

    @given(case=operation.as_strategy())
    @settings(
        max_examples=INVENTED_PER_OPERATION,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def ask(case):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the test client, about the requests we invent
            answer = case.call(headers={"X-Obverse-Token": TOKEN, "Accept": "application/json"})
        wrong = complaint(answer)
        if wrong:
            found.append(f"{operation.method.upper()} {case.formatted_path} {str(case.body)[:200]}: {wrong}")

    ask()
    return found


def test_no_request_breaks_the_house(app):
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", app)
    operations = [result.ok() for result in schema.get_all_operations()]
    assert len(operations) > 5
    found = []
    for operation in operations:
        if not operation.path.endswith(STREAMS):
            found += invented_requests(operation)
    assert found == [], "\n".join(found)


def test_the_complaint_about_answers_finds_something(app):
    from fastapi.testclient import TestClient

    @app.get("/api/test-broken")
    def broken():
        raise RuntimeError

    with TestClient(app, raise_server_exceptions=False) as web:
        assert complaint(web.get("/api/test-broken")).startswith("server error")
        assert complaint(web.get("/api/nowhere")) == ""
