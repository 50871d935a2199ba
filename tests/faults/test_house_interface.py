"""The whole JSON interface under invented requests: never a server error, always problem details (RFC 9457) in one shape."""

import warnings
from urllib.parse import unquote, urlsplit

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from obverse.clock import SystemClock
from obverse.web.app import create_app
from obverse.workbench.bootstrap import open_workbench

TOKEN = "token-of-the-test"
INVENTED_PER_OPERATION = 2
PATIENCE_S = 600
# The members of RFC 9457, section 3.1, and our own.
PROBLEM = {"type", "title", "status", "detail", "instance", "code", "what", "where", "remedy"}
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
        problem = answer.json()
        kind = answer.headers["content-type"]
        members = PROBLEM | ({"revision"} if answer.status_code == 409 and "revision" in problem else set())
        if (
            "application/problem+json" not in (kind, *kind)
            or set(problem) != members
            or problem["status"] != answer.status_code
            or not problem["instance"].isascii()
            or unquote(problem["instance"]) != unquote(urlsplit(str(answer.request.url)).path)
            or not problem["title"]
            or not problem["detail"].endswith(".")
        ):
            return f"another shape of a problem: {kind} {answer.text[:300]}"
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
            # A busy computer takes long for a picture; by itself the client gives up after 10 s.
            answer = case.call(headers={"X-Obverse-Token": TOKEN, "Accept": "application/json"}, timeout=PATIENCE_S)
        wrong = complaint(answer)
        if wrong:
            found.append(f"{operation.method.upper()} {case.formatted_path} {str(case.body)[:200]}: {wrong}")

    ask()
    return found


def test_no_request_breaks_the_house(app):
    # Read by the worker that asks only.
    import schemathesis

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


def test_a_conflict_has_the_same_shape_and_the_revision_that_stands(app):
    from fastapi.testclient import TestClient

    with TestClient(app, headers={"X-Obverse-Token": TOKEN}) as web:
        seen = app.state.workbench.projector.screen_revision()
        first, again = (
            web.post("/api/projector/screen", json={"width_m": width, "revision": seen}) for width in (1.2, 1.3)
        )
    assert first.status_code == 200, first.text
    assert again.status_code == 409 and complaint(again) == "" and again.json()["code"] == "conflict"
    assert again.json()["revision"] == first.json()["revision"]
