"""The pages: the cases of the shop with the circuits to open one for, complaints, kinds of errors."""

from __future__ import annotations

from collections.abc import Mapping

from flask import Blueprint, Response, render_template, request
from werkzeug.exceptions import NotFound

from advisor.cases.book import CaseBook
from advisor.contract import service
from advisor.contract.body import Json
from advisor.contract.case_queries import CasesQuery
from advisor.contract.case_requests import parse
from advisor.contract.problem import KINDS
from api import case_routes
from api.caller import caller
from api.case_list import case_lines

SHOWN_CASES = 20


def blueprint(cases: CaseBook) -> Blueprint:
    """Give the pages over cases and the engine that advises on them."""
    pages = Blueprint("pages", __name__)
    engine = cases.engine

    @pages.after_request
    def keep_nothing(response: Response) -> Response:
        """Going back shows a case as it is now, and nothing of it stays on a shared machine."""
        response.headers["Cache-Control"] = "no-store"
        return response

    @pages.get("/")
    def home() -> str:
        """List circuits to open a case for, and the cases that there are."""
        asked = {name: value for name, value in request.args.items() if value}
        found, cursor = cases.whole(caller().shop, parse(CasesQuery, _query(asked)))
        shelf = service.listed(engine)
        following = {**asked, "cursor": cursor} if cursor else None
        return render_template(
            "home.html", shelf=shelf, cases=case_lines(found, engine), asked=asked, following=following
        )

    @pages.get("/circuit/<name>")
    def circuit(name: str) -> str:
        """Ask for the complaint."""
        schematic = service.known_model(name, engine).schematic
        return render_template("circuit.html", circuit=schematic, comeback=request.args.get("comeback", ""))

    @pages.get("/problems/<kind>")
    def problem_kind(kind: str) -> str:
        """Explain one kind of error."""
        if kind not in KINDS:
            raise NotFound
        return render_template("problem_kind.html", kind=KINDS[kind])

    case_routes.add_to(pages, cases)
    return pages


def _query(asked: Mapping[str, str]) -> dict[str, Json]:
    """Read what is asked of the list: open cases unless others are, `state=any` being all of them."""
    query: dict[str, Json] = {"limit": SHOWN_CASES, "state": "open", **asked}
    return {name: value for name, value in query.items() if (name, value) != ("state", "any")}
