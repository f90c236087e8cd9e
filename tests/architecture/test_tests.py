"""The tests' own rules, and the rule that none is left out."""

import ast

import pytest
from architecture.sources import ROOT, python_sources

LEAVES_OUT = {"skip", "skipif", "xfail", "importorskip", "skipTest", "expectedFailure"}


def test_every_test_says_what_it_checks():
    """Each test function has a docstring."""
    silent = [
        f"{source.path.name}:{function.name}"
        for source in python_sources(ROOT, "tests")
        for function in source.functions
        if function.name.startswith("test_") and ast.get_docstring(function) is None
    ]
    assert silent == []


def test_tests_are_no_packages():
    """No folder of tests is a package, where it would hide the package of the same name."""
    assert list((ROOT / "tests").rglob("__init__.py")) == []


def test_no_test_can_leave_itself_out():
    """No test file uses a way to skip a test or to expect its failure."""
    found = [
        f"{source.path.name}:{node.lineno}: {node.attr}"
        for source in python_sources(ROOT, "tests")
        for node in ast.walk(source.tree)
        if isinstance(node, ast.Attribute) and node.attr in LEAVES_OUT
    ]
    assert found == []


pytest_plugins = ["pytester"]
GOOD = "def test_good(): pass\n"


@pytest.fixture
def nested(pytester, monkeypatch):
    """Give a folder of tests that has the project's own conftest."""
    monkeypatch.delenv("ADVISOR_REQUIRE_ALL", raising=False)
    pytester.makeconftest((ROOT / "tests" / "conftest.py").read_text(encoding="utf-8"))
    return pytester


@pytest.mark.parametrize("workers", [(), ("-n", "1")])
@pytest.mark.parametrize(
    ("test", "what"),
    [
        ("import pytest\ndef test_no(): pytest.skip('never')\n", "1 skipped"),
        ("import pytest\n@pytest.mark.xfail\ndef test_no(): assert False\n", "1 xfailed"),
    ],
)
def test_a_test_left_out_fails_the_run(nested, test, what, workers):
    """A run with a skipped or expectedly failing test fails and says so, with and without workers."""
    nested.makepyfile(GOOD + test)
    run = nested.runpytest_subprocess(*workers)
    assert run.ret == pytest.ExitCode.TESTS_FAILED
    run.stdout.fnmatch_lines([f"FAILED: {what}*"])


@pytest.mark.parametrize("workers", [(), ("-n", "1")])
def test_a_deselected_test_fails_a_full_run(nested, monkeypatch, workers):
    """Choosing tests is free while developing and fails where all are required."""
    nested.makepyfile(GOOD + "def test_other(): pass\n")
    assert nested.runpytest_subprocess("-k", "good", *workers).ret == pytest.ExitCode.OK
    monkeypatch.setenv("ADVISOR_REQUIRE_ALL", "1")
    assert nested.runpytest_subprocess(*workers).ret == pytest.ExitCode.OK
    run = nested.runpytest_subprocess("-k", "good", *workers)
    assert run.ret == pytest.ExitCode.TESTS_FAILED
    run.stdout.fnmatch_lines(["FAILED: 1 deselected*"])


def test_the_circuit_simulator_can_be_required(nested, monkeypatch):
    """Where ngspice is required and absent, the run does not start and says so."""
    nested.makepyfile(GOOD)
    monkeypatch.setenv("ADVISOR_REQUIRE_NGSPICE", "1")
    monkeypatch.setenv("PATH", "")
    run = nested.runpytest_subprocess()
    assert run.ret == pytest.ExitCode.USAGE_ERROR
    run.stderr.fnmatch_lines(["*ngspice is not on the path*"])
