"""How often a caller may come, and who is meant where a proxy stands between."""

import fakes
import numpy as np
import pytest

from api.app import create_app
from api.limits import Buckets
from api.settings import Settings


class Clock:
    """A clock that stands until it is moved [s]."""

    def __init__(self):
        self.now = 0.0

    def __call__(self):
        """Give the time."""
        return self.now


def slow_takes(times, rate, burst):
    """Say of each time whether a request passes, from the definition: no span holds more than burst + rate x length."""
    passed = []
    for time in times:
        spans = [(start, sum(1 for other in passed if other >= start) + 1) for start in [*passed, time]]
        if all(count <= burst + rate * (time - start) + 1e-9 for start, count in spans):
            passed.append(time)
    return [time in passed for time in times]


def test_a_bucket_is_what_its_name_says(rng):
    """Random arrivals pass exactly where the definition of the limit lets them."""
    for _ in range(40):
        rate, burst = float(rng.uniform(0.5, 3.0)), int(rng.integers(1, 5))
        times = np.cumsum(rng.exponential(0.3, 40))
        clock = Clock()
        buckets = Buckets(rate, burst, clock=clock)
        took = []
        for time in times:
            clock.now = float(time)
            took.append(buckets.take("a") == 0.0)
        assert took == slow_takes(list(map(float, times)), rate, burst)


def test_who_waits_as_told_gets_in():
    """The time that is told is enough, and a little less is not."""
    clock = Clock()
    buckets = Buckets(0.5, 1, clock=clock)
    assert buckets.take("a") == 0.0
    told = buckets.take("a")
    assert told == pytest.approx(2.0)
    clock.now += told - 0.001
    assert buckets.take("a") > 0.0
    clock.now += 0.002
    assert (buckets.wait("a"), buckets.take("a")) == (0.0, 0.0)


def test_memory_is_bounded():
    """A million names leave as many as there is room for, and the latest of them is still known."""
    buckets = Buckets(0.001, 1, most=50, clock=Clock())
    for number in range(1000):
        buckets.take(f"name {number}")
    assert len(buckets._left) == 50
    assert buckets.take("name 999") > 0.0


def test_no_rate_is_no_limit():
    """A rate of 0 lets everything through."""
    assert [Buckets(0.0, 1.0, clock=Clock()).take("a") for _ in range(9)] == [0.0] * 9


def client_of(store, **settings):
    """Give a client of an application with these settings."""
    return create_app(fakes.engine(), store, Settings(**settings)).test_client()


def test_429_says_when_to_come_back(store):
    """After its burst an address is told to wait; another address and health are not."""
    client = client_of(store, rate=0.5)
    codes = [client.get("/v1/circuits").status_code for _ in range(4)]
    assert codes == [200, 200, 429, 429]
    late = client.get("/v1/circuits")
    assert late.get_json()["type"] == "/problems/too-many"
    assert 1 <= int(late.headers["Retry-After"]) <= 3
    assert client.get("/v1/circuits", environ_overrides={"REMOTE_ADDR": "192.0.2.1"}).status_code == 200
    assert client.get("/v1/health").status_code == 200


def test_each_token_has_its_own_limit(store, bearer):
    """Two benches behind one address do not slow each other, and nobody's guesses are theirs."""
    client = client_of(store, rate=0.5, tokens=True)
    first, second = bearer(), bearer(name="ben")
    assert [client.get("/v1/circuits", headers=first).status_code for _ in range(3)] == [200, 200, 429]
    assert client.get("/v1/circuits", headers=second).status_code == 200
    codes = [client.get("/v1/circuits", headers={"Authorization": "Bearer x"}).status_code for _ in range(4)]
    assert codes == [401, 401, 429, 429]


def test_a_home_of_addresses_is_one_caller(store):
    """Whoever has a network of IPv6 addresses does not have as many limits."""
    client = client_of(store, rate=0.25)
    codes = [
        client.get("/v1/circuits", environ_overrides={"REMOTE_ADDR": address}).status_code
        for address in ("2001:db8::1", "2001:db8::2", "2001:db8:0:1::1")
    ]
    assert codes == [200, 429, 200]


FORWARDED = {"X-Forwarded-For": "198.51.100.7, 192.0.2.1", "X-Forwarded-Proto": "https"}


def test_proxy_headers_count_from_the_proxy_alone(store):
    """From the named proxy the last entry is the caller and the scheme is believed; from anybody else neither is."""
    client = client_of(store, rate=0.25, proxies=("10.0.0.0/24",))

    def ask(sender, **change):
        """Send a request from an address."""
        return client.get("/v1/circuits", headers={**FORWARDED, **change}, environ_overrides={"REMOTE_ADDR": sender})

    by_proxy = ask("10.0.0.5")
    assert (by_proxy.status_code, "Strict-Transport-Security" in by_proxy.headers) == (200, True)
    by_other = ask("203.0.113.1")
    assert (by_other.status_code, "Strict-Transport-Security" in by_other.headers) == (200, False)
    forged = ask("203.0.113.1", **{"X-Forwarded-For": "198.51.100.99"})
    assert forged.status_code == 429
    assert ask("10.0.0.6").status_code == 429
    assert ask("10.0.0.5", **{"X-Forwarded-For": "1.2.3.4, 192.0.2.2"}).status_code == 200


def test_a_proxy_does_not_choose_the_host(store):
    """X-Forwarded-Host is believed of nobody: the proxy passes the real one on."""
    client = client_of(store, proxies=("10.0.0.5",))
    response = client.get(
        "/",
        headers={"X-Forwarded-Host": "localhost", "Host": "evil.example"},
        environ_overrides={"REMOTE_ADDR": "10.0.0.5"},
    )
    assert response.status_code == 421
