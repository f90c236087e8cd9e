"""The benches of the service run on small numbers, hold here too, and see what they are to see."""

import random

import servers
from bench import bench_generated, bench_kills, bench_load, bench_outage, bench_start

from api.v1 import OPERATIONS


def test_generated_requests(tmp_path):
    """No answer breaks the description, none is 5xx, and enough of what matters is answered."""
    place = str(tmp_path / "cases.sqlite")
    token = servers.a_token(place)
    with servers.waitress(place, tmp_path, "--tokens", "--rate", "0") as served:
        tally = bench_generated.run(f"http://127.0.0.1:{served.port}", token, 150)
    assert tally.failures == []
    assert [status for status in tally.statuses if status >= 500] == []
    assert min(tally.share("advise"), tally.share("appendEvents")) >= 0.2  # of a few dozen; of many, .3
    assert {operation.id for operation in OPERATIONS} - set(bench_generated.LEFT_OUT) <= set(tally.sent)


def test_a_server_that_fails_is_seen(tmp_path):
    """An engine that cannot decide is told as what it is."""
    place = str(tmp_path / "cases.sqlite")
    token = servers.a_token(place)
    broken = "import fakes; engine = fakes.engine(decide=None)"
    with servers.waitress(place, tmp_path, "--tokens", "--rate", "0", engine=broken) as served:
        tally = bench_generated.run(f"http://127.0.0.1:{served.port}", token, 60)
    assert tally.statuses[500] > 0
    assert any("advise 500" in line for line in tally.failures)


def test_kills(tmp_path):
    """A worker and a whole server killed under writers: nothing is lost, nothing is doubled, every journal replays."""
    found = bench_kills.count(str(tmp_path / "cases.sqlite"), tmp_path, 4, random.Random(3), 4)
    assert (found.kills, found.lost, found.doubled, found.bad) == (4, 0, 0, ())
    assert found.acknowledged >= 15


def test_an_outage(tmp_path):
    """With the database away callers hear 503 and when to come back; then writing goes on by itself."""
    found = bench_outage.run(tmp_path, 1, away=0.5)
    assert (found.lost, found.doubled, found.bad) == (0, 0, ())
    assert found.statuses[503] > 0
    assert found.statuses[200] == found.acknowledged >= 11


def test_load(tmp_path):
    """Each kind of request is answered and timed."""
    found = bench_load.rows(tmp_path, 0.3, 2)
    assert len(found) == 5
    assert all(row.rate > 0.0 and 0.0 < row.median <= row.slowest for row in found)
    assert found[0].rate > found[2].rate


def test_a_start(tmp_path):
    """A server is timed to its first advice, and what it holds grows with the circuits that it is asked about."""
    asked = bench_start.complaints(["belt-reminder", "horn"])
    (start,) = bench_start.starts(tmp_path, 1)
    assert 0.0 < start.processor < 30.0
    before, after = bench_start.held(tmp_path, asked)
    assert 20.0 < before.anonymous < before.resident < after.resident < 400.0
    assert after.anonymous < after.proportional <= after.resident
