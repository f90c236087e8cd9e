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
    assert headers["Referrer-Policy"] == "same-origin"
