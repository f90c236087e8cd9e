"""Each bench runs, on tiny sizes, and gives figures that are numbers."""

import math

from bench import bench_circuit, bench_growth, bench_tables
from bench.generated import write

from advisor.knowledge.loading import load_model


def figures(rows):
    """Give every number of a table."""
    return [cell for row in rows for cell in row if isinstance(cell, float)]


def test_operating_points(tmp_path):
    """Both solvers find points of a small generated circuit, and the same voltages within 1 mV."""
    row = bench_circuit.measured(write(tmp_path, 1), 40, 3)
    assert all(map(math.isfinite, figures([row])))
    assert row[-1] < 1.0


def test_tables(tmp_path):
    """The table of causes is timed against the outside engine."""
    row = bench_tables.measured(load_model(write(tmp_path, 1), None, 400), 2, 2)
    assert all(value > 0.0 for value in figures([row]))


def test_growth(tmp_path):
    """Compile, worth, slopes and profile are measured."""
    rows = bench_growth.growth(tmp_path, (1, 2), (700, 900), 700)
    assert all(map(math.isfinite, figures(rows)))
    assert bench_growth.profile(tmp_path / "b1" / "bench" / "circuits" / "branches.yaml", 400)


def test_the_generated_circuit_has_its_parts(tmp_path):
    """Six branches have about two hundred parts."""
    model = load_model(write(tmp_path, 1), None, 0)
    assert len(model.wiring.items) == 3 + 32
