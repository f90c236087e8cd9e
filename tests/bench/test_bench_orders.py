"""The bench of many orders runs on a few."""

from bench import bench_orders

from advisor.refit.counting import frame


def test_many_orders(tmp_path):
    """Two small files are written and counted, whole; with ages and shops of their own there are more patterns."""
    sizes = []
    for many in (False, True):
        source = tmp_path / f"orders-{many}"
        source.mkdir()
        bench_orders.write(source, 4000, 2, many)
        took, counted = bench_orders.timed(source, tmp_path / f"work-{many}")
        assert took.clock > 0.0 and took.processor > took.after > 0.0
        assert frame(counted)["count"].sum() == 4000
        sizes.append(len(counted))
    assert sizes[0] < sizes[1] <= 4000
