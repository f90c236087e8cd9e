"""The command that advises on one complaint."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import BinaryIO

import click

from advisor.cli.shelf import engine_of, with_file
from advisor.cli.tables import show_advice
from advisor.contract import service
from advisor.contract.answer import AdviceAnswer
from advisor.contract.body import Json, pointer
from advisor.contract.engine import Engine
from advisor.contract.priors import read_priors
from advisor.contract.typed import typed_reading
from advisor.errors import RequestError, RequestProblem

OPTIONS = {
    "years": ("vehicle", "years"),
    "hours": ("vehicle", "hours"),
    "labour": ("costs", "labour_per_hour"),
    "hand_over": ("costs", "hand_over"),
    "currency": ("costs", "currency"),
    "authorised": ("authorised", "money"),
    "authorised_minutes": ("authorised", "minutes"),
    "spent": ("spent", "money"),
    "spent_minutes": ("spent", "minutes"),
}


@dataclass(frozen=True)
class Typed:
    """A request made of options, and which option each part of it came from, by pointer."""

    body: dict[str, Json]
    origins: Mapping[str, str]
    problems: Sequence[RequestProblem]


@click.command()
@click.argument("circuit", required=False)
@click.option("--request", "request_file", type=click.File("rb"), help="A request as JSON; - reads standard input.")
@click.option("--symptom", multiple=True, metavar="S", help="What the customer reports.")
@click.option("--absent", multiple=True, metavar="S", help="What the customer says is not the case.")
@click.option("--finding", multiple=True, metavar="TEST=OUTCOME", help="A test with its outcome.")
@click.option("--reading", multiple=True, metavar="TEST=11.8V", help="A test with its reading and unit, or over.")
@click.option("--declined", multiple=True, metavar="TEST", help="A test not done or not sure: no evidence.")
@click.option(
    "--repair", multiple=True, metavar="ID=stays", help="A repair done last: stays, gone or back, or no result."
)
@click.option("--opened", multiple=True, metavar="PLACE", help="A place that is open already.")
@click.option("--years", type=float, help="Age of the vehicle [years].")
@click.option("--hours", type=float, help="Time in use [hours].")
@click.option("--labour", type=float, help="Labour per hour [money].")
@click.option("--hand-over", type=float, help="Price of handing the vehicle over [money].")
@click.option("--currency", metavar="EUR", help="Three capital letters.")
@click.option("--authorised", type=float, help="What the customer authorised [money].")
@click.option("--authorised-minutes", type=float, help="The same as working time [min].")
@click.option("--spent", type=float, help="What the case has cost so far [money].")
@click.option("--spent-minutes", type=float, help="The same as working time [min].")
@click.option("--depth", type=int, help="Steps looked ahead, 1 or 2; 3 and 4 follow them to the end: seconds.")
@click.option("--priors", "priors_file", type=click.File("rb"), help="A release of priors to advise under, a file.")
@click.option("--why", is_flag=True, default=None, help="Say what each finding says of the first causes.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def advise(
    context: click.Context,
    /,
    circuit: str | None,
    request_file: BinaryIO | None,
    priors_file: BinaryIO | None,
    as_json: bool,
    **options: Json,
) -> None:
    """Rank the causes of a complaint and value every next test.

    CIRCUIT is the id of a circuit, or the path of its file.
    """
    given = {name: value for name, value in options.items() if _is_given(value)}
    if (circuit is None) == (request_file is None) or (request_file is not None and given):
        raise click.UsageError("give either CIRCUIT with options, or --request FILE alone")
    engine = engine_of(context)
    if priors_file is not None:
        engine = engine.under(read_priors(priors_file.read()).rates)
    answer = service.answer(request_file.read(), engine) if request_file else _answer(str(circuit), given, engine)
    if as_json:
        click.echo(answer.model_dump_json())
    else:
        show_advice(answer)


def _is_given(value: object) -> bool:
    return value is not None and value != ()


def _answer(circuit: str, given: Mapping[str, Json], engine: Engine) -> AdviceAnswer:
    """Answer what the options ask; raises RequestError that names the option beside each pointer."""
    engine, name = with_file(engine, circuit)
    typed = _typed(name, given)
    try:
        answer = service.answer_body(typed.body, engine)
    except RequestError as error:
        raise type(error)([_at_option(item, typed) for item in (*typed.problems, *error.problems)]) from error
    if typed.problems:
        raise RequestError([_at_option(item, typed) for item in typed.problems])
    return answer


def _typed(circuit: str, given: Mapping[str, Json]) -> Typed:
    """Make the request of options; a reading that is no number is noted and the rest is still checked."""
    body: dict[str, Json] = {"circuit": circuit, "opened": _texts(given, "opened")}
    origins, problems = {"#/circuit": "CIRCUIT"}, list[RequestProblem]()
    if "why" in given:
        body["reasons"] = True
    for option in given.keys() & OPTIONS.keys():
        part, key = OPTIONS[option]
        section = body.setdefault(part, {})
        assert isinstance(section, dict)
        section[key] = given[option]
        origins[pointer(part, key)] = f"--{option.replace('_', '-')}"
    origins |= {pointer("opened", i): f"--opened {name}" for i, name in enumerate(_texts(given, "opened"))}
    if "depth" in given:
        body["depth"], origins[pointer("depth")] = given["depth"], "--depth"
    findings: list[Json] = []
    for option in ("symptom", "absent", "finding", "reading", "declined", "repair"):
        for text in _texts(given, option):
            origins[pointer("findings", len(findings))] = f"--{option} {text}"
            findings.append(_finding(option, str(text), len(findings), problems))
    return Typed({**body, "findings": findings}, origins, problems)


def _finding(option: str, text: str, place: int, problems: list[RequestProblem]) -> Json:
    if option in ("symptom", "absent"):
        return {"kind": "symptom", "symptom": text, "present": option == "symptom"}
    if option == "declined":
        return {"kind": "declined", "test": text}
    if option == "repair":
        repair, _, result = text.partition("=")
        return {"kind": "repair", "repair": repair, **({"result": result} if result else {})}
    test, mark, answer = text.rpartition("=")
    if not mark:
        raise click.UsageError(f"--{option} {text}: expected TEST={'OUTCOME' if option == 'finding' else '11.8V'}")
    if option == "finding":
        return {"kind": "outcome", "test": test, "outcome": answer}
    return typed_reading(test, answer, place, problems)


def _texts(given: Mapping[str, Json], option: str) -> list[Json]:
    value = given.get(option, ())
    return list(value) if isinstance(value, (list, tuple)) else []


def _at_option(problem: RequestProblem, typed: Typed) -> RequestProblem:
    steps = problem.pointer.split("/")
    starts = ("/".join(steps[:length]) for length in range(len(steps), 1, -1))
    origin = next((typed.origins[start] for start in starts if start in typed.origins), None)
    return replace(problem, message=f"{origin}: {problem.message}") if origin else problem
