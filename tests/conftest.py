"""What every test shares: a seeded generator, and the rule that no test may be left out unseen."""

import os
import shutil
from collections.abc import Iterator

import numpy as np
import pytest


@pytest.fixture
def rng() -> np.random.Generator:
    """Give a random generator with the same seed for every test."""
    return np.random.default_rng(20_240_229)


class LeftOut:
    """Fails a run in which a test was skipped or expected to fail, or, where all are required, deselected."""

    def __init__(self) -> None:
        self.deselected = 0

    def pytest_deselected(self, items: list[pytest.Item]) -> None:
        """Count tests that an option or a hook took out of the collection."""
        self.deselected += len(items)

    @pytest.hookimpl(optionalhook=True)
    def pytest_testnodedown(self, node: object) -> None:
        """Take over the count of a worker process; each worker collects the same tests."""
        self.deselected = max(self.deselected, getattr(node, "workeroutput", {}).get("deselected", 0))

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_sessionfinish(self, session: pytest.Session) -> Iterator[None]:
        """Turn the exit status to failed, after every other plugin had its say."""
        output = getattr(session.config, "workeroutput", None)
        if output is not None:
            output["deselected"] = self.deselected
        if self.counts(session.config) and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED
        return (yield)

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        """Say why a run without a failed test fails."""
        for outcome, count in self.counts(terminalreporter.config).items():
            terminalreporter.write_line(f"FAILED: {count} {outcome}; every test runs and passes here", red=True)

    def counts(self, config: pytest.Config) -> dict[str, int]:
        """Count the tests left out, by how."""
        reporter = config.pluginmanager.get_plugin("terminalreporter")
        if reporter is None:  # a worker process, which the main one judges
            return {}
        found = {how: len(reporter.stats.get(how, ())) for how in ("skipped", "xfailed", "xpassed")}
        if os.environ.get("ADVISOR_REQUIRE_ALL"):
            found["deselected"] = self.deselected
        return {how: count for how, count in found.items() if count}


def pytest_configure(config: pytest.Config) -> None:
    """Watch for tests left out, and refuse to start without the circuit simulator where it is required."""
    config.pluginmanager.register(LeftOut(), "left-out")
    if os.environ.get("ADVISOR_REQUIRE_NGSPICE") and shutil.which("ngspice") is None:
        raise pytest.UsageError("ADVISOR_REQUIRE_NGSPICE is set and ngspice is not on the path")
