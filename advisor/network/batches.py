"""What many lists of findings say of every hypothesis: what lists have in common is worked out once.

The findings of one site (a connector, or a place of none) are a factor: a table by class of hypotheses and shared
state.  A list is the product of its factors, summed over the states; lists of the same tests have the same classes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from advisor.network.engine import Evidence
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.shared import Shared, at_site, classes, rows_of, sites
from advisor.network.worlds import NONE, Floats, Ints

KEEP = 128
"""So many findings, so many factors and so many sites' classes are kept: each some hundred kilobytes."""
FEW = 16
"""So many classes of lists are kept, as those of the same tests follow each other."""
Tested = OutcomeFinding | ReadingFinding
Findings = tuple[Tested, ...]
Tests = tuple[tuple[str, ...], ...]
"""The tests of some sites."""
Classes = tuple[Ints, Ints]
"""Class of each hypothesis, shape (H,), and the first of each class."""


@dataclass(frozen=True, eq=False)
class Told:
    """What a list of findings says of H hypotheses, shape (H,) each.

    Attributes:
        said: P(its symptoms | hypothesis in which the vehicle came).
        shows: P(what was tested | hypothesis) while its fault shows.
        hides: The same while its fault hides.
    """

    said: Floats
    shows: Floats
    hides: Floats


@dataclass(frozen=True, eq=False)
class Batch:
    """Weighs lists of findings in which no test and no symptom is named twice.

    Attributes:
        weigh: Gives a finding as evidence over H hypotheses.
        states: Prior of the states that findings share, shape (G,).
        hypotheses: H.
    """

    weigh: Callable[[SymptomFinding | Tested], Evidence]
    states: Floats
    hypotheses: int

    def told(self, findings: Sequence[SymptomFinding | Tested]) -> Told:
        """What one list says; lists that follow each other had better be of the same tests."""
        said, shows, hides = np.ones((3, self.hypotheses))
        linked: list[Tested] = []
        for finding in findings:
            evidence = self.evidence(finding)
            if isinstance(finding, SymptomFinding):
                said = said * evidence.likelihood
            elif evidence.shared is None:
                shows, hides = shows * evidence.shows, hides * evidence.hidden
            else:
                linked.append(finding)
        if not linked:
            return Told(said, shows, hides)
        together = self._together(sorted(linked, key=lambda finding: finding.test))
        return Told(said, shows * together, hides * together[NONE])  # what hides reads like none

    @cached_property
    def evidence(self) -> Callable[[SymptomFinding | Tested], Evidence]:
        """Weigh a finding, the last ones kept."""
        return lru_cache(maxsize=KEEP)(self.weigh)

    def _together(self, linked: Sequence[Tested]) -> Floats:
        """P(findings | hypothesis), shape (H,), their shared states summed out."""
        groups = [tuple(linked[i] for i in site) for site in sites([self._shared(finding) for finding in linked])]
        class_of, first = self._classes(groups)
        product = self.states[None]
        for group in groups[:-1]:
            product = product * self._at(group, first)
        found: Floats = np.einsum("...g,...g->...", product, self._at(groups[-1], first))[class_of]
        return found

    def _at(self, group: Findings, first: Ints) -> Floats:
        """P(findings of a site | hypothesis, state) of some hypotheses, shape (U, G) or (U, 1)."""
        found: Floats = self._factor(group)[self._site(group)[0][first]]
        return found

    def _classes(self, groups: Sequence[Findings]) -> Classes:
        """Hypotheses that no test of some sites tells apart."""
        return _kept(
            self._all, _tests(*groups), lambda: classes([self._site(g)[0] for g in groups], self.hypotheses), FEW
        )

    def _site(self, group: Findings) -> Classes:
        """Hypotheses that no test of one site tells apart, whatever was found."""
        return _kept(
            self._sites, _tests(group), lambda: classes(rows_of([self._shared(f) for f in group]), self.hypotheses)
        )

    @cached_property
    def _sites(self) -> dict[Tests, Classes]:
        return {}

    @cached_property
    def _all(self) -> dict[Tests, Classes]:
        return {}

    @cached_property
    def _factor(self) -> Callable[[Findings], Floats]:
        """P(findings of a site | class of hypotheses, state), shape (U, G) or (U, 1), the last ones kept."""
        return lru_cache(maxsize=KEEP)(
            lambda group: at_site([self._shared(finding).at(self._site(group)[1]) for finding in group])
        )

    def _shared(self, finding: Tested) -> Shared:
        shared = self.evidence(finding).shared
        assert shared is not None  # what shares no state is not linked
        return shared


def _tests(*groups: Findings) -> Tests:
    return tuple(tuple(finding.test for finding in group) for group in groups)


def _kept(known: dict[Tests, Classes], key: Tests, make: Callable[[], Classes], most: int = KEEP) -> Classes:
    """Give what is kept, or make it; all is thrown away when it is too much."""
    found = known.get(key)
    if found is None:
        if len(known) >= most:
            known.clear()
        found = known[key] = make()
    return found
