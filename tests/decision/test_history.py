"""Findings before and after repairs, against paths written out one by one, and stories worked by hand."""

import numpy as np
import pytest
from shipped_models import TABLES, drawn, small_model, usual_prior

from advisor.decision.advise import decide
from advisor.decision.bench import groundwork
from advisor.decision.complaint import complaint_of
from advisor.decision.history import BAD_REPAIR, history_of
from advisor.decision.next_step import HIDES_ABOVE, PROVED, UNSHOWN
from advisor.errors import RequestError
from advisor.network.engine import symptom_likelihood
from advisor.network.findings import OutcomeFinding, RepairFinding, SymptomFinding
from advisor.network.proving import MISREAD, RETURNS
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED

CIRCUITS = drawn("history")
MODELS = (*CIRCUITS, *TABLES)


def told(model, finding, h, states):
    """P(outcome | hypothesis) in every shared state, lasting slips included, shape (G,)."""
    shared = model.predicted[finding.test].outcome(finding.outcome, model.axis, 0.0).shared
    row = np.broadcast_to(shared.table[shared.row[h]], states.shape)
    if shared.turned:
        mirrored = np.broadcast_to(shared.turned.table[shared.turned.row[h]], states.shape)
        row = (1.0 - shared.turned.chance) * row + shared.turned.chance * mirrored
    return (1.0 - shared.lasting) * row + shared.lasting * shared.stray


def written_out(circuit, symptom, first, repair, second):
    """P(hypothesis now | complaint, outcome, repair with its result, outcome), a path and a state at a time."""
    model, root = small_model(circuit), usual_prior(circuit)
    worlds, states, ground = model.worlds, model.axis.prior, groundwork(model)
    row, column = [plan.id for plan in ground.plans].index(repair.repair), worlds.symptoms.index(symptom)
    reported = symptom_likelihood(worlds, root, model.intake, column)
    left = np.zeros(len(worlds.members))
    for h in range(len(worlds.members)):
        target, quiet = int(ground.exactly.after[row, h]), float(model.quiet[h])
        both = [(h, h, h, 1.0 - quiet, False), (NONE, NONE, h, quiet, True)]
        paths = both
        if target != h:
            paths = [(*w[:3], BAD_REPAIR * w[3], w[4]) for w in both]
            paths.append((h, target, target, (1.0 - BAD_REPAIR) * (1.0 - quiet), None))
            paths.append((NONE, target, target, (1.0 - BAD_REPAIR) * quiet, None))
        for before, after, now, chance, hiding in paths:
            read = (states * told(model, first, before, states) * told(model, second, after, states)).sum()
            showed = worlds.presence[h, column] if h >= SPECIALS else 0.0
            shows = worlds.presence[now, column] if now >= SPECIALS else {NONE: 0.0}.get(now, 1.0)
            base = reported[h] if h < SPECIALS else reported[NONE]
            hides = float(model.quiet[now]) if hiding is None else float(hiding)
            if now == UNLISTED:
                hides = 0.0
            on = {"stays": 1.0 - hides, "gone": (1.0 - RETURNS) * hides, "back": RETURNS * hides}[repair.result]
            off = 1.0 if repair.result == "gone" else 0.0
            on, off = ((1.0 - MISREAD) * p + MISREAD / 3.0 for p in (on, off))
            both_looks, fell, rose = min(showed, shows), max(showed - shows, 0.0), max(shows - showed, 0.0)
            complaint = both_looks * on + fell * off + base * (rose * on + (1.0 - max(showed, shows)) * off)
            left[now] += root.weights[h] * chance * read * complaint
    return left / left.sum()


def loosest(model):
    """The repair that cures most of what may hide, so that what hid until it was cured is among the paths."""
    loose = {cause.id for cause in model.wiring.causes if cause.mode.loose}
    return max(groundwork(model).plans, key=lambda plan: len(plan.restores & loose)).id


@pytest.mark.parametrize("circuit", CIRCUITS)
@pytest.mark.parametrize("result", ["stays", "gone", "back"])
def test_a_repair_between_two_outcomes_is_a_sum_over_ways(circuit, result):
    """Complaint, an outcome, a repair and its result, and the first test again with another outcome."""
    model, root = small_model(circuit), usual_prior(circuit)
    symptom, repair = model.worlds.symptoms[0], loosest(model)
    tests = [t for t in model.compiled.tests if t.kind == "look"][:1] + [
        t for t in model.compiled.tests if t.kind == "volts"
    ][:1]
    first, second = (OutcomeFinding(test.id, test.outcomes[0].id) for test in tests)
    repaired = RepairFinding(repair, result)
    expected = written_out(circuit, symptom, first, repaired, second)
    findings = [SymptomFinding(symptom), first, repaired, second]
    found = history_of(model, root, findings).posterior(model, root)
    assert found.weights == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("circuit", MODELS)
def test_what_was_repaired_without_help_is_hardly_to_blame(circuit):
    """After each repair that does not help, what is left of its causes is what a bad part leaves; bounds hold."""
    model, root = small_model(circuit), usual_prior(circuit)
    complaint = SymptomFinding(model.worlds.symptoms[0])
    before = history_of(model, root, [complaint]).posterior(model, root)
    for plan in groundwork(model).plans[:6]:
        touched = [i for i, cause in enumerate(model.compiled.causes) if cause in plan.restores]
        after = history_of(model, root, [complaint, RepairFinding(plan.id, "stays")]).posterior(model, root)
        share = model.worlds.with_cause(after.weights)
        was = model.worlds.with_cause(before.weights)[touched].sum()
        assert share[touched].sum() <= BAD_REPAIR * was / (1.0 - was) + 1e-3
        assert (after.low <= share + 1e-12).all()
        assert (share <= after.high + 1e-12).all()


@pytest.mark.parametrize("circuit", MODELS)
def test_a_repair_that_helped_leaves_a_sound_vehicle(circuit):
    """After the likeliest repair, with the complaint gone, nothing is wrong more likely than anything else."""
    model = small_model(circuit)
    complaint = SymptomFinding(model.worlds.symptoms[0])
    first = max(decide(model, [complaint], depth=1).repairs, key=lambda r: r.probability)
    advice = decide(model, [complaint, RepairFinding(first.repair, "gone")], depth=1)
    assert advice.no_fault > 0.5
    assert advice.no_fault > max(cause.probability for cause in advice.causes)


def test_the_end_of_a_proved_repair_is_to_close(
    circuit="reversing-lamps",
):
    """A complaint that is gone is not followed by more tests."""
    model = small_model(circuit)
    findings = [SymptomFinding("both-dark"), RepairFinding("repair-X22", "gone")]
    advice = decide(model, findings, depth=1)
    assert (advice.next.kind, advice.next.reason) == ("no_fault", PROVED)
    stays = decide(model, [SymptomFinding("both-dark"), RepairFinding("repair-X22", "stays")], depth=1)
    assert stays.next.kind != "no_fault"


def test_a_mended_short_leaves_its_fuse_blown():
    """A short behind the fuse is found, the wire mended, the fuse forgotten: the fuse is what is left.

    With the fuse replaced first, the short blows the new one: as it was.
    """
    model, root = small_model("reversing-lamps"), usual_prior("reversing-lamps")
    ground, worlds = groundwork(model), model.worlds
    rows = {plan.id: row for row, plan in enumerate(ground.plans)}
    names = [frozenset(worlds.causes[c] for c in row if c >= 0) for row in worlds.members]
    short = names.index(frozenset({"W302/short-to-ground"}))
    assert names[ground.exactly.after[rows["repair-W302"], short]] == {"F12/open"}
    assert ground.exactly.after[rows["repair-F12"], short] == short
    assert ground.after[rows["repair-W302"], short] == NONE
    blown = OutcomeFinding("inspect.F12", "damage") if "inspect.F12" in model.tests else None
    found = [SymptomFinding("both-dark"), *([blown] if blown else []), RepairFinding("repair-W302", "stays")]
    share = history_of(model, root, found).posterior(model, root)
    own = history_of(model, root, found[:-1]).posterior(model, root)
    fuse = worlds.causes.index("F12/open")
    assert worlds.with_cause(share.weights)[fuse] > 2.0 * worlds.with_cause(own.weights)[fuse]


def test_an_intermittent_fault_comes_back():
    """What was gone and is back is a contact, not a switch that stays open."""
    model, root = small_model("reversing-lamps"), usual_prior("reversing-lamps")
    findings = [SymptomFinding("both-dark"), RepairFinding("repair-X22", "back")]
    share = model.worlds.with_cause(history_of(model, root, findings).posterior(model, root).weights)
    loose = np.array([cause.mode.loose for cause in model.wiring.causes])
    assert share[loose > 0.0].sum() > 0.7
    assert share[model.compiled.causes.index("reverse-switch/stuck-open")] < 0.1


def test_special_hypotheses_stay_what_they_are():
    """Nothing is repaired where nothing is wrong; a complaint that stays is as designed or unlisted more likely."""
    model, root = small_model("reversing-lamps"), usual_prior("reversing-lamps")
    before, after = (
        history_of(model, root, findings).posterior(model, root).weights
        for findings in (
            [SymptomFinding("both-dark")],
            [SymptomFinding("both-dark"), RepairFinding("repair-X22", "stays")],
        )
    )
    assert after[NONE] < 0.1 * before[NONE]
    assert after[AS_DESIGNED] > before[AS_DESIGNED]
    assert after[UNLISTED] > before[UNLISTED]


@pytest.mark.parametrize(
    ("findings", "pointer", "text"),
    [
        ([SymptomFinding("both-dark"), RepairFinding("repair-X99")], "#/findings/1/repair", "repair-X22"),
        ([RepairFinding("repair-X22", "stays")], "#/findings/0/symptom", "no symptom"),
        ([RepairFinding("repair-X22", "stays", "purple")], "#/findings/0/symptom", "purple"),
    ],
)
def test_a_repair_that_says_nothing_is_refused(findings, pointer, text):
    """An unknown repair, a result without a complaint, an unknown complaint: refused by address."""
    with pytest.raises(RequestError) as refused:
        decide(small_model("reversing-lamps"), findings, depth=1)
    (problem,) = refused.value.problems
    assert problem.pointer == pointer
    assert text in problem.message


def test_a_fault_that_does_not_show_is_to_be_provoked():
    """With the complaint reported and every test sound, a loose contact is likely, and the advice says how to move it.

    Nine sound findings rule out what shows; 14 of 100 faults at contacts and splices do not show at a visit.
    """
    model, findings = small_model("reversing-lamps"), [SymptomFinding("both-dark")]
    for _ in range(9):
        step = decide(model, findings, depth=1).next
        if step.kind != "test":
            break
        test = model.tests[step.id]
        sound = "sound" if test.kind == "inspect" else None
        sound = sound or next(o.id for o in test.outcomes if o.low <= test.normal_value < o.high)
        findings.append(OutcomeFinding(test.id, sound))
    advice = decide(model, findings, depth=1)
    assert advice.hiding > HIDES_ABOVE
    assert "moves reversing switch plug X22" in advice.next.reason
    loose = {cause.id for cause in model.wiring.causes if cause.mode.loose}
    assert f"{advice.causes[0].part}/{advice.causes[0].mode}" in loose


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_a_complaint_is_looked_at_where_it_was_reported(circuit):
    """Each symptom has looks that find it: under its condition, at a load that would look otherwise if all was well."""
    model = small_model(circuit)
    for symptom, said in model.schematic.symptoms.items():
        looks = [model.compiled.tests[i] for i in sorted(complaint_of(model, symptom).problem.looks)]
        loads = {load for glance in said.glances for load in glance.sees}
        kinds = {model.schematic.library.types[model.schematic.parts[load].type].kind for load in loads}
        # A battery that is flat after days is nothing to look at now.
        assert looks or kinds == {"charge"}
        for test in looks:
            sound = next(o.id for o in test.outcomes if o.low <= test.normal_value < o.high)
            assert any(glance.sees.get(test.observed.load, sound) != sound for glance in said.glances)
            assert not (test.setup.unplug or test.setup.jumper or test.setup.lamp)


def test_a_complaint_that_is_not_there_is_not_chased():
    """A blower reported dead turns slowly: what is left does not show that complaint, and no look follows.

    Before anybody has looked at the blower itself the same is not said.
    """
    model, complaint = small_model("blower"), SymptomFinding("all-dead")
    slow = OutcomeFinding("look.blower-motor.four", "slow")
    assert decide(model, [complaint]).next.kind == "test"
    told = decide(model, [complaint, slow]).next
    assert (told.kind, told.reason.split(";")[0]) == ("no_fault", UNSHOWN.split(";")[0])
