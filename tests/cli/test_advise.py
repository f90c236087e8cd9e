"""Advice on the command line."""

import json

import fakes
import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.network.findings import RepairFinding
from api.app import create_app

OPTIONS = [
    "belt-reminder",
    *("--symptom", "lamp-stays-dark"),
    *("--finding", "look.belt-lamp.prove-out=lit"),
    *("--reading", "volts.C12-7.reminding=11.8V"),
    *("--reading", "volts.C12-1.reminding=12400mV"),
    *("--opened", "knee-panel"),
    *("--years", "9", "--hours", "4200", "--labour", "85", "--hand-over", "250", "--currency", "EUR"),
]


def run(*args: str, stdin: str | None = None, engine=None):
    """Run the command on the hand-built engine."""
    return CliRunner().invoke(main, ["advise", *args], obj=engine or fakes.engine(), input=stdin)


def test_a_request_gives_what_http_gives(tmp_path):
    """A request by file or standard input gives the answer of the API, field by field."""
    text = json.dumps(fakes.GOOD_REQUEST)
    path = tmp_path / "request.json"
    path.write_text(text)
    http = create_app(fakes.engine()).test_client().post("/v1/advice", json=fakes.GOOD_REQUEST).get_json()
    assert json.loads(run("--request", str(path), "--json").stdout) == http
    assert json.loads(run("--request", "-", "--json", stdin=text).stdout) == http


def test_options_mean_the_same_as_a_request():
    """Options give the answer of the request that they spell."""
    findings = [item for item in fakes.GOOD_REQUEST["findings"] if item.get("present", True)]
    request = json.dumps({**fakes.GOOD_REQUEST, "findings": findings})
    assert run(*OPTIONS, "--json").stdout == run("--request", "-", "--json", stdin=request).stdout


def test_a_declined_test_is_no_evidence():
    """A declined test changes no share, and is not proposed again."""
    plain = json.loads(run("belt-reminder", "--symptom", "lamp-stays-dark", "--json").stdout)
    test = plain["next"]["id"]
    without = json.loads(run("belt-reminder", "--symptom", "lamp-stays-dark", "--declined", test, "--json").stdout)
    assert without["causes"] == plain["causes"]
    assert [t["test"] for t in without["tests"]] == [t["test"] for t in plain["tests"] if t["test"] != test]


def test_tables_for_a_person():
    """Without --json the next step stands first, then causes with the chart's blind spots, tests and repairs."""
    output = run("belt-reminder", "--symptom", "lamp-stays-dark").output
    places = [
        output.index(text)
        for text in ("next: test", "NOT NAMED", "next tests", "repairs, in the order", "not proposed")
    ]
    assert places == sorted(places)
    assert "--finding look.belt-lamp.prove-out=lit" in output


def test_whether_to_test_on_is_said():
    """In how many cases testing further would change the repair stands below the ranking, in plain words."""
    output = " ".join(run("belt-reminder", "--symptom", "lamp-stays-dark").output.split())
    assert "Testing further would change what is repaired first in about 3 of 100 cases." in output
    assert "No test can save more than" in output


def test_the_customer_is_asked():
    """With too little authorised the customer is asked, with the step, its price and a range for the whole."""
    limits = ["--authorised", "100", "--authorised-minutes", "60", "--spent", "30", "--spent-minutes", "45"]
    printed = run("belt-reminder", "--symptom", "lamp-stays-dark", *limits).output.replace("│", " ")
    output = " ".join(printed.split())
    assert "next: ask customer" in output
    assert "20 min, 30 EUR. Getting it fixed comes to 40 to 390 EUR, about 150 on average." in output
    refused = run("belt-reminder", "--symptom", "lamp-stays-dark", "--spent", "-1")
    assert (refused.exit_code, "--spent:" in refused.output) == (2, True)


def test_what_is_not_proved_is_said():
    """What is to be proved before a unit is replaced stands below the ranking, with the test that does it."""
    output = " ".join(run("belt-reminder", "--symptom", "lamp-stays-dark").output.split())
    assert "Not proved yet: belt reminder unit: feed at C12 cavity 1, wire GNRD." in output
    assert "Proved by: Supply of the belt unit." in output


def test_why_is_printed_when_asked():
    """With --why each finding's weights for and against a cause stand below the ranking, and the odd finding."""
    asked = ["belt-reminder", "--symptom", "lamp-stays-dark", "--reading", "volts.C12-7.reminding=11.8V"]
    output = " ".join(run(*asked, "--why").output.replace("│", " ").split())
    assert output.index("causes") < output.index("why, in decibans") < output.index("next tests")
    assert "with this fault 12.6 V are predicted here; you read 11.8 V; in the sound circuit 0.01 V" in output
    assert "+9.5" in output
    assert "fits the others worst" in output
    assert "why, in decibans" not in run(*asked).output
    assert json.loads(run(*asked, "--json").stdout)["reasons"] is None
    assert len(json.loads(run(*asked, "--why", "--json").stdout)["reasons"]["causes"]) == 2


@pytest.mark.parametrize(
    ("args", "text"),
    [
        (["belt-reminder", "--symptom", "lamp-stays-dar"], "--symptom lamp-stays-dar: unknown symptom"),
        (
            ["belt-reminder", "--reading", "volts.C12-1.reminding=x"],
            "--reading volts.C12-1.reminding=x: expected a number",
        ),
        (["belt-reminder", "--reading", "volts.C12-1.reminding"], "expected TEST=11.8V"),
        (["belt-reminder", "--declined", "nope"], "--declined nope: unknown test"),
        (["belt-reminder", "--opened", "nope"], "--opened nope: unknown place"),
        (["belt-reminder", "--years", "nan"], "--years: expected"),
        (["belt-remainder"], "CIRCUIT: unknown circuit 'belt-remainder'; did you mean belt-reminder?"),
        (["belt-reminder", "--reading", "volts.C12-1.reminding=999"], "no fault gives this"),
        ([], "give either CIRCUIT"),
        (["belt-reminder", "--request", "-"], "give either CIRCUIT"),
        (["--request", "nowhere.json"], "nowhere.json"),
        (["--request", "-", "--years", "3"], "give either CIRCUIT"),
    ],
)
def test_bad_requests_end_with_two(args, text):
    """A bad request names the option, says what is wrong, and ends with 2."""
    result = run(*args, stdin="{")
    assert result.exit_code == 2
    assert text in result.output
    assert "Traceback" not in result.output


def test_problems_of_readings_and_names_come_together():
    """A reading that is no number hides no other problem."""
    result = run("belt-reminder", "--symptom", "nope", "--reading", "volts.C12-1.reminding=x", "--json")
    assert [item["pointer"] for item in json.loads(result.stdout)["errors"]] == [
        "#/findings/1/value",
        "#/findings/0/symptom",
    ]


def test_a_broken_body_is_a_problem_document():
    """With --json a body that is no JSON is answered as the API answers it."""
    result = run("--request", "-", "--json", stdin="{")
    assert (result.exit_code, json.loads(result.stdout)["type"]) == (2, "/problems/not-json")


def test_a_circuit_may_be_a_file():
    """A path names a circuit on the command line."""
    loaded = []
    engine = fakes.engine(load=lambda name: (loaded.append(name), fakes.MODEL)[1])
    result = run("somewhere/belt.yaml", "--symptom", "lamp-stays-dark", "--json", engine=engine)
    assert json.loads(result.stdout)["circuit"] == "belt-reminder"
    assert loaded == ["somewhere/belt.yaml"]


def test_how_deep_is_looked_is_an_option():
    """--depth goes into the request, and a depth that nobody looks to is refused by its option."""
    asked = []
    engine = fakes.engine(decide=lambda *args, **rest: asked.append(rest["depth"]) or fakes.decide(*args, **rest))
    assert run(*OPTIONS, "--depth", "1", engine=engine).exit_code == 0
    assert run(*OPTIONS, engine=engine).exit_code == 0
    assert asked == [1, 2]
    assert run(*OPTIONS, "--depth", "4", engine=engine).exit_code == 0
    assert asked[2:] == [4]
    refused = run(*OPTIONS, "--depth", "5")
    assert refused.exit_code == 2
    assert "--depth: expected at most 4" in refused.output


def test_a_repair_is_the_last_finding():
    """--repair says what was done and what came of it; without a result nobody has looked."""
    asked = []
    engine = fakes.engine(decide=lambda *args, **rest: asked.append(args[1]) or fakes.decide(*args, **rest))
    assert run(*OPTIONS, "--repair", "replace-lamp=stays", engine=engine).exit_code == 0
    assert run(*OPTIONS, "--repair", "replace-lamp", engine=engine).exit_code == 0
    assert [findings[-1] for findings in asked] == [
        RepairFinding("replace-lamp", "stays"),
        RepairFinding("replace-lamp"),
    ]
    refused = run(*OPTIONS, "--repair", "replace-lamp=perhaps")
    assert (refused.exit_code, "--repair replace-lamp=perhaps" in refused.output) == (2, True)
