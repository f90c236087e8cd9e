"""Each bench runs, on tiny sizes, and gives figures that are numbers."""

import math

from bench import bench_calibration, bench_circuit, bench_growth, bench_networks, bench_supply, bench_tables
from bench.generated import write

import advisor
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


def test_calibration():
    """Both lines of all vehicles, and one for those with one fault, are there and have figures."""
    rows = bench_calibration.table(advisor.load("belt-reminder"), 24, 0.0)
    assert {"as it is", "as it is, listed", "- one fault"} <= {row[0] for row in rows}
    assert all(map(math.isfinite, figures(rows)))


def test_supply():
    """At rest voltage scaled readings are the solved ones; at another supply they differ by less than 0.25 V."""
    rest = bench_supply.departures("belt-reminder", 12.6)
    assert abs(rest.error).max() < 1e-5  # motors beside are settled to the solver's tolerance
    rows = bench_supply.rows("belt-reminder", 13.2)
    assert 0.0 < max(row[5] for row in rows if row[2] == "volts [V]") < 0.25


def test_the_generated_circuit_has_its_parts(tmp_path):
    """Six branches have about two hundred parts."""
    model = load_model(write(tmp_path, 1), None, 0)
    assert len(model.wiring.items) == 3 + 32


def test_networks():
    """Networks are timed against both outside engines, which agree; growth and profile are measured."""
    row = bench_networks.measured("asia", 8, (4, 4, 1))
    assert all(map(math.isfinite, figures([row])))
    assert row[7] < 1e-12
    assert all(map(math.isfinite, figures(bench_networks.growth((8, 16), (4, 8)))))
    assert bench_networks.profile("asia", 4)
