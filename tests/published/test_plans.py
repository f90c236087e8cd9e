"""Worked examples of conditional plans, answered by the search, by looking two steps ahead and by full enumeration."""

from itertools import permutations, product

import numpy as np
import pytest
from oracles_decision import optimum
from problems import NO_PLACES, lone_faults, plan_by_steps

from advisor.decision.bounds import KnownFault
from advisor.decision.lookahead import look_ahead
from advisor.decision.orders import Mover, order_cost
from advisor.decision.outlook import HAND_OVER, Outlook, Step
from advisor.decision.plan import HandOver, RepairStep, TestStep, value_of
from advisor.decision.problem import Problem, Repairs, Stage, Tests
from advisor.decision.search import find_plan
from advisor.decision.stopping import no_more_tests, same_decision, worth_of_knowing
from advisor.network.paths import Paths
from advisor.network.proving import Proof, proved

CLOSE = 1e-12


def in_turn(plan):
    """The repairs of a plan without tests."""
    order = []
    while isinstance(plan, RepairStep):
        order.append(plan.repair)
        plan = plan.not_fixed
    assert plan == HandOver()
    return order


def knowing(problem):
    """What knowing the fault would save."""
    outlook = Outlook.of(problem)
    return worth_of_knowing(outlook, Stage(), problem.belief, outlook.repairing(Stage(), problem.belief))


class TestInspections:
    """D. Heckerman, J. Breese, K. Rommelse, "Decision-theoretic troubleshooting", CACM 38(3), 1995 (formula from
    memory); numbers by enumeration of all 24 orders.  Whoever finds the fault repairs it.
    """

    @staticmethod
    def problem(hand_over):
        """Four parts: to inspect one costs its price, to have found the fault in it that of its repair."""
        found = (50.0, 30.0, 100.0, 20.0)
        return lone_faults((0.4, 0.3, 0.2, 0.1), (12.0, 20.0, 5.0, 40.0), ending=found, hand_over=hand_over)

    def test_every_order(self):
        """The best order is 3, 1, 2, 4 at 77.6, the second 1, 3, 2, 4 at 78.0, the worst 4, 2, 1, 3 at 117.2."""
        problem = self.problem(1e6)
        cost = {o: order_cost(problem, Stage(), problem.belief, o) for o in permutations(range(4))}
        ranked = sorted(cost, key=cost.__getitem__)
        assert [ranked[0], ranked[1], ranked[-1]] == [(2, 0, 1, 3), (0, 2, 1, 3), (3, 1, 0, 2)]
        assert [cost[o] for o in (ranked[0], ranked[1], ranked[-1])] == pytest.approx([77.6, 78.0, 117.2], abs=CLOSE)

    @pytest.mark.parametrize(
        ("call", "cost", "order"), [(60.0, 60.0, []), (90.0, 77.6, [2, 0, 1, 3]), (200.0, 77.6, [2, 0, 1, 3])]
    )
    def test_service_call(self, call, cost, order):
        """At 60 the service is called at once; at 90 and 200 all four are inspected in the best order."""
        problem = self.problem(call)
        found = find_plan(problem)
        assert (found.cost, found.lower) == pytest.approx((cost, cost), abs=1e-9)
        assert in_turn(found.plan) == order
        assert optimum(problem) == pytest.approx(cost, abs=1e-9)


OVERLAP = {(1, 0, 2): 1.5, (2, 0): 1.45, (1, 2, 0): 1.55, (0, 2): 1.55, (0, 1, 2): 1.7, (2, 1, 0): 1.65}


class TestOverlap:
    """Actions that fix two faults each: F. Jensen and others, "The SACSO methodology for troubleshooting complex
    systems", AI EDAM 15, 2001 (from memory).
    """

    PROBLEM = lone_faults((0.20, 0.25, 0.40, 0.15), (1, 1, 1), fixes=[[1, 1, 0, 0], [0, 1, 1, 0], [0, 0, 1, 1]])

    @pytest.mark.parametrize("order", OVERLAP)
    def test_orders(self, order):
        """Every published order costs what is published."""
        assert order_cost(self.PROBLEM, Stage(), self.PROBLEM.belief, order) == pytest.approx(OVERLAP[order])

    def test_greedy_is_not_the_optimum(self):
        """Probability over cost, renewed after each failure, takes A2, A1, A3 at 1.5; the optimum is A3, A1, 1.45."""
        mover = Mover.of(self.PROBLEM)
        greedy = mover.greedy(mover.case(Stage(), self.PROBLEM.belief))
        assert (greedy.of(0), greedy.cost[0]) == ((1, 0, 2), pytest.approx(1.5, abs=CLOSE))
        found = find_plan(self.PROBLEM)
        assert (in_turn(found.plan), found.cost) == ([2, 0], pytest.approx(1.45, abs=CLOSE))
        assert (found.lower, optimum(self.PROBLEM)) == pytest.approx((1.45, 1.45), abs=1e-9)


MAY_FAIL = {(0, 1, 2, 3): 27.875, (1, 0, 2, 3): 29.3325, (0, 1, 3): 30.15, (0, 2, 1, 3): 31.1405}


class TestRepairsThatMayFail:
    """Reboot, virus tool, reinstall, new computer: exercise in F. Jensen, T. Nielsen, "Bayesian networks and decision
    graphs", chapter on troubleshooting; numbers by enumeration.
    """

    PROBLEM = lone_faults(
        (0.8, 0.15, 0.05), (1, 2, 25, 500), fixes=[[1, 0, 0], [0, 0.95, 0], [0.99, 0.99, 0], [1, 1, 1]]
    )

    @pytest.mark.parametrize("order", MAY_FAIL)
    def test_orders(self, order):
        """Every order costs what enumeration gave."""
        cost = order_cost(self.PROBLEM, Stage(), self.PROBLEM.belief, order)
        assert cost == pytest.approx(MAY_FAIL[order], abs=CLOSE)

    def test_optimum(self):
        """Reboot, virus tool, reinstall, new computer: 27.875, which no plan can beat."""
        found = find_plan(self.PROBLEM)
        assert in_turn(found.plan) == [0, 1, 2, 3]
        assert (found.cost, found.lower, optimum(self.PROBLEM)) == pytest.approx([27.875] * 3, abs=1e-6)


VOLTAGE = (6.0, [[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
CLICK = (3.0, [[0.95, 0.05], [0.9, 0.1], [0.05, 0.95]])


class TestQuestions:
    """Fuse, relay or motor; voltage at the motor, click of the relay: an invented example, numbers by enumeration."""

    @staticmethod
    def problem(*questions):
        """The three faults with some of the two questions."""
        return lone_faults((0.5, 0.3, 0.2), (10.0, 40.0, 120.0), tests=questions)

    @pytest.mark.parametrize(
        ("questions", "cost", "first"),
        [
            ((), 54.0, Step("repair", 0)),
            ((VOLTAGE,), 49.0, Step("repair", 0)),
            ((CLICK,), 51.5, Step("repair", 0)),
            ((VOLTAGE, CLICK), 48.97, Step("test", 1)),
        ],
    )
    def test_optimum(self, questions, cost, first):
        """One question costs 49, or 51.5, after the fuse; with both the click is asked first, at 48.97."""
        problem = self.problem(*questions)
        found = find_plan(problem)
        assert (found.cost, found.lower, optimum(problem)) == pytest.approx([cost] * 3, abs=1e-6)
        plan = found.plan
        started = Step("test", plan.test) if isinstance(plan, TestStep) else Step("repair", plan.repair)
        assert started == first

    @pytest.mark.parametrize(("questions", "cost"), [((VOLTAGE,), 49.0), ((CLICK,), 51.5), ((VOLTAGE, CLICK), 48.97)])
    def test_two_steps_ahead(self, questions, cost):
        """Looking two steps ahead finds these as well, since it holds repairs at both steps."""
        problem = self.problem(*questions)
        ahead = look_ahead(Outlook.of(problem), Stage(), problem.belief)
        assert ahead.best.cost == pytest.approx(cost, abs=1e-6)
        assert value_of(problem, plan_by_steps(problem)).cost == pytest.approx(cost, abs=1e-9)

    @pytest.mark.parametrize(("question", "with_question", "gross"), [(VOLTAGE, 50.0, 10.0), (CLICK, 53.0, 4.0)])
    def test_one_step_asks_too_early(self, question, with_question, gross):
        """Valued one step ahead, asking costs 50, or 53, and saves 10, or 4, before its own price."""
        problem = self.problem(question)
        one = look_ahead(Outlook.of(problem), Stage(), problem.belief).one
        cost = next(choice.cost for choice in one if choice.step == Step("test", 0))
        assert cost == pytest.approx(with_question, abs=CLOSE)
        assert 54.0 - (cost - question[0]) == pytest.approx(gross, abs=CLOSE)

    def test_perfect_information(self):
        """To know the fault would save 13, so that a question for 13 or more is not worth a thought."""
        problem = self.problem(VOLTAGE)
        assert knowing(problem) == pytest.approx(13.0, abs=CLOSE)
        assert not no_more_tests(Outlook.of(problem), Stage(), 13.0)
        assert no_more_tests(Outlook.of(self.problem((13.0, VOLTAGE[1]))), Stage(), knowing(problem))


class TestOilWell:
    """To drill or not: H. Raiffa, "Decision analysis", 1968; numbers by enumeration.

    Handing over stands for not drilling, what a state falls short of the best for the price of ending in it.
    """

    PAYS, BEST = np.array([-70.0, 50.0, 200.0]), 200.0
    SOUNDING = (10.0, np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.4], [0.1, 0.3, 0.5]]).T)

    @pytest.fixture
    def problem(self):
        """One action, which ends the case whatever the state."""
        return lone_faults(
            (0.5, 0.3, 0.2),
            (0.0,),
            fixes=[[1, 1, 1]],
            ending=self.BEST - self.PAYS,
            tests=(self.SOUNDING,),
            hand_over=self.BEST,
        )

    def test_without_sounding(self, problem):
        """Drilling pays 20."""
        assert self.BEST - float(Outlook.of(problem).repairing(Stage(), problem.belief).cost[0]) == pytest.approx(
            20.0, abs=CLOSE
        )

    def test_after_each_outcome(self, problem):
        """Outcomes have probability .41, .35, .24; drilling then pays -30.49, 32.86, 87.5."""
        joint = problem.split(problem.belief, 0)
        chance = joint.sum(axis=0)
        assert chance == pytest.approx([0.41, 0.35, 0.24], abs=CLOSE)
        pays = [self.BEST - order_cost(problem, Stage(), column, (0,)) / column.sum() for column in joint.T]
        assert pays == pytest.approx([-30.48780488, 32.85714286, 87.5], abs=1e-8)
        plan = find_plan(problem).plan
        assert [type(branch) for branch in plan.branches] == [HandOver, RepairStep, RepairStep]

    def test_worth(self, problem):
        """With sounding 22.5 net of its price, which saves 12.5 gross and 2.5 net; knowing the state would save 35."""
        found = find_plan(problem)
        assert self.BEST - found.cost == pytest.approx(22.5, abs=1e-9)
        assert self.BEST - optimum(problem) == pytest.approx(22.5, abs=1e-9)
        assert knowing(problem) == pytest.approx(35.0, abs=CLOSE)


SAME = {(0,): 0.59, (1,): 1.0, (2,): 0.69, (0, 1): 0.755, (0, 2): 0.77, (1, 2): 0.69, (0, 1, 2): 0.77}


class TestSameDecision:
    """A. Chen, A. Choi, A. Darwiche, "An exact algorithm for computing the same-decision probability", IJCAI 2013
    (definition); numbers by enumeration.
    """

    TESTS = ((0.9, 0.2), (0.7, 0.4), (0.8, 0.1))

    @pytest.mark.parametrize("tests", SAME)
    def test_sets_of_tests(self, tests):
        """Two faults, two repairs at one price: the likelier is repaired, so that one half is the threshold."""
        tables = [(1.0, [[yes, 1.0 - yes], [no, 1.0 - no]]) for yes, no in self.TESTS]
        problem = lone_faults((0.3, 0.7), (100.0, 100.0), tests=tables)
        outlook = Outlook.of(problem)
        now = outlook.repairing(Stage(), problem.belief)
        found = same_decision(outlook, Stage(), problem.belief, tests, now)
        assert found == pytest.approx(SAME[tests], abs=CLOSE)


class TestPersistence:
    """What was not replaced stays as it was: J. Breese, D. Heckerman, "Decision-theoretic troubleshooting: a framework
    for repair and experiment", UAI 1996; numbers by enumeration.
    """

    STATES = np.array(list(product([0, 1], repeat=5)))
    A, B, LEAK = STATES[:, 0], STATES[:, 2], STATES[:, 4]

    @pytest.fixture
    def problem(self):
        """Causes A and B, for each whether it would show, and a leak; the one repair replaces A."""
        shows = ((self.A & self.STATES[:, 1]) | (self.B & self.STATES[:, 3]) | self.LEAK).astype(bool)
        chance = np.where(self.STATES == 1, (0.1, 0.8, 0.05, 0.9, 0.01), (0.9, 0.2, 0.95, 0.1, 0.99)).prod(axis=1)
        assert chance[shows].sum() == pytest.approx(0.130186, abs=1e-12)
        belief = np.where(shows, chance, 0.0)
        count = len(belief)
        return Problem(
            belief=belief / belief.sum(),
            passes=(~shows).astype(float),
            ending=np.zeros(count),
            fixed=~shows,
            tests=Tests(np.zeros((count, 0)), (), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.intp)),
            repairs=Repairs(
                np.arange(count)[None, :] - 16 * self.A,
                np.ones((1, count)),
                np.arange(count)[None, :],
                np.array([40.0]),
                np.array([20.0]),
                np.array([-1]),
            ),
            access=NO_PLACES,
            hand_over=250.0,
        )

    def test_before(self, problem):
        """With the symptom on, A has .6229, B .3491, the leak .0768."""
        found = [problem.belief[own == 1].sum() for own in (self.A, self.B, self.LEAK)]
        assert found == pytest.approx([0.62288572, 0.34908516, 0.07681317], abs=5e-9)

    def test_still_on_after_replacing(self, problem):
        """B has .82584785, and not the .97972448 of mechanisms that are drawn again."""
        joint, _ = Outlook.of(problem).after(Step("repair", 0), problem.belief, Stage())
        left = joint[:, 0]
        assert left.sum() == pytest.approx(0.41901586960195414, abs=1e-12)
        assert left[self.B == 1].sum() / left.sum() == pytest.approx(0.82584785, abs=5e-9)
        assert left[self.LEAK == 1].sum() / left.sum() == pytest.approx(0.18331806, abs=5e-9)
        assert left[self.A == 1].sum() == 0.0

    def test_the_old_part_was_bad_with_its_prior(self, problem):
        """Given that replacing A helped nothing, A was bad with probability .1, its prior."""
        still = problem.still[problem.repairs.after[0]] * problem.belief
        assert still[self.A == 1].sum() / still.sum() == pytest.approx(0.1, abs=1e-12)

    def test_the_result_as_a_finding_says_the_same(self):
        """A's replacement in the network: four hypotheses, the links drawn once for both looks."""
        a, b = np.array([0, 1, 0, 1]), np.array([0, 0, 1, 1])
        prior = np.where(a, 0.1, 0.9) * np.where(b, 0.05, 0.95)
        shows = 1.0 - 0.99 * 0.2**a * 0.1**b
        paths = Paths.untouched(4).repaired(np.array([0, 0, 2, 2]), np.ones(4, dtype=bool), 0.0)
        proof = Proof("stays", shows[paths.now], np.zeros_like(paths.chance), misread=0.0)
        (stays,) = proved(shows[paths.start], np.zeros_like(paths.chance), [proof])
        joint = prior[paths.start] * paths.chance * shows[paths.start]
        assert (joint * stays).sum() / joint.sum() == pytest.approx(0.41901586960195414, abs=1e-12)
        now = paths.folded(joint * stays, 4) / (joint * stays).sum()
        assert now[2] + now[3] == pytest.approx(0.82584785, abs=5e-9)
        assert now[[1, 3]].sum() == 0.0

    def test_the_plan_counts_on_it(self, problem):
        """To replace A, then to hand over, costs 40 and 250 for the share that stays."""
        cost = value_of(problem, RepairStep(0, HandOver())).cost
        assert cost == pytest.approx(40.0 + 250.0 * 0.41901586960195414, abs=1e-9)
        assert look_ahead(Outlook.of(problem), Stage(), problem.belief).best.step != HAND_OVER
        assert KnownFault(problem).bound(Stage(), problem.belief) <= cost
