"""The pages: circuits, symptoms, and the case with its next step."""

from __future__ import annotations

from flask import Blueprint, Response, redirect, render_template, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as AnyResponse

from advisor.contract import service
from advisor.contract.engine import Engine, KnownModel
from advisor.contract.problem import KINDS, problem_of
from advisor.errors import RequestError
from api.case_page import case_page
from api.case_query import CaseQuery, Step, parse_case, salvaged
from api.kit import json_response
from api.step_card import answered

MENDINGS = 4


def blueprint(engine: Engine) -> Blueprint:
    """Give the pages over an engine."""
    pages = Blueprint("pages", __name__)

    @pages.get("/")
    def home() -> str:
        """List the circuits."""
        listed = service.listed(engine)
        return render_template("home.html", circuits=listed.circuits, broken=listed.broken)

    @pages.get("/circuit/<name>")
    def circuit(name: str) -> str:
        """Ask for the complaint."""
        schematic = service.known_model(name, engine).schematic
        rows = [(item.title, CaseQuery(name, (("symptom", item.id),)).url()) for item in schematic.symptoms.values()]
        return render_template("circuit.html", circuit=schematic, symptoms=rows)

    @pages.get("/circuit/<name>/case")
    def case(name: str) -> AnyResponse | str | tuple[str, int]:
        """Show the next step of a case."""
        model = service.known_model(name, engine)
        try:
            return _case(*parse_case(name, _query()), model, engine)
        except RequestError as error:
            return _mend(name, error, engine)

    @pages.get("/circuit/<name>/case.json")
    def case_json(name: str) -> Response:
        """Give the answer behind a case page."""
        service.known_model(name, engine)
        query, _ = parse_case(name, _query())
        return json_response(service.answer_body(query.body(), engine))

    @pages.get("/problems/<kind>")
    def problem_kind(kind: str) -> str:
        """Explain one kind of error."""
        if kind not in KINDS:
            raise NotFound
        return render_template("problem_kind.html", kind=KINDS[kind])

    return pages


def _case(query: CaseQuery, reading: Step | None, model: KnownModel, engine: Engine) -> AnyResponse | str:
    """Show a case; what a form just sent is checked first and then turned into the address that holds it."""
    noted = _noted(query, reading, model) if reading else query
    asked = service.parse_request({**noted.body(), "reasons": True}, engine)
    answer = service.advise(model, asked, engine.decide)
    if reading:
        return redirect(noted.url(), 303)
    return render_template("case.html", page=case_page(query, asked, answer, model))


def _noted(query: CaseQuery, reading: Step, model: KnownModel) -> CaseQuery:
    test = model.tests.get(reading[1].rpartition("~")[0])
    return answered(query, reading, test.place if test else "", model.schematic)


def _query() -> str:
    return request.query_string.decode("utf-8", "replace")


def _mend(name: str, error: RequestError, engine: Engine) -> tuple[str, int]:
    """Tell what is wrong, with a way back that works: what is left out may uncover the next fault."""
    found, back, fault = problem_of(error), salvaged(name, _query()), error
    for _ in range(MENDINGS):
        back = back.mended(fault)
        try:
            service.answer_body(back.body(), engine)
        except RequestError as again:
            fault = again
        else:
            break
    return render_template("problem.html", problem=found, back=back.url()), found.status
