"""What every response carries."""

import pytest


@pytest.mark.parametrize(
    "path", ["/", "/circuit/belt-reminder", "/v1/circuits", "/v1/nope", "/nope", "/static/page.css"]
)
def test_security_headers(client, path):
    """Pages, answers, errors and files carry the same security headers."""
    with client.get(path) as response:
        headers = response.headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe-inline" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "script-src 'self'" in policy
    # With no-referrer a browser sends Origin: null beside its own forms: https://fetch.spec.whatwg.org/#append-a-request-origin-header
    assert headers["Referrer-Policy"] == "same-origin"
    assert "Strict-Transport-Security" not in headers


def test_over_tls_the_browser_is_told_to_stay_there(client):
    """An answer over TLS carries the header of RFC 6797."""
    headers = client.get("/v1/health", base_url="https://localhost").headers
    assert headers["Strict-Transport-Security"] == "max-age=31536000"


@pytest.mark.parametrize(
    ("host", "status"),
    [("localhost:8321", 200), ("[::1]:9", 200), ("evil.example", 421), ("127.0.0.1.evil.example", 421), ("[", 421)],
)
def test_a_name_that_was_bent_to_this_machine_is_refused(client, host, status):
    """DNS rebinding: the browser still sends the other site's name."""
    assert client.get("/v1/circuits", headers={"Host": host}).status_code == status
