"""The pages of a case: what is seen, and what a form writes, each write followed by a redirect."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from advisor.cases.book import CaseBook
from advisor.cases.looking import Look, both, check, look
from advisor.contract import service
from advisor.contract.body import Json
from advisor.contract.engine import KnownModel
from advisor.contract.event import StaleCaseError
from advisor.errors import AdvisorError, RequestError
from api import forms
from api.caller import caller
from api.case_actions import ACTIONS, JUDGED, Body, Doing
from api.case_closing import closed, prefilled
from api.case_opening import opening
from api.case_page import answers_of, case_page
from api.case_release import release_page
from api.case_words import names_of
from api.entered import Try, entered
from api.proved import proved_good
from api.write_up import write_up

Page = str | tuple[str, int] | Response
DOINGS = {**ACTIONS, "close": closed}


def add_to(pages: Blueprint, cases: CaseBook) -> None:
    """Add the pages of cases to the others."""

    @pages.post("/cases")
    def open_case() -> Page:
        """Open a case and show it."""
        form = forms.sent()
        try:
            made = cases.open(opening(form), forms.write(form))
        except RequestError as error:
            return entered(Try(form, "open", url_for("pages.open_case")), error)
        return redirect(url_for("pages.case", case=made.id), 303)

    @pages.get("/cases/<case>")
    def case(case: str) -> str:
        """Show a case: the next step while it is open, the write-up when it is closed."""
        seen = look(cases, caller().shop, case, request.args.get("pick"))
        model = _model(cases, seen)
        if seen.case.closing is not None:
            return render_template("closed.html", page=write_up(seen, model))
        return render_template("case.html", page=case_page(seen, model, mirrored=request.args.get("mirror") == "1"))

    @pages.get("/cases/<case>/release")
    def case_release(case: str) -> str:
        """Show what the release in force would change."""
        return render_template("release.html", page=release_page(both(cases, caller().shop, case)))

    @pages.get("/cases/<case>/print")
    def print_case(case: str) -> str:
        """Show the write-up for paper."""
        seen = look(cases, caller().shop, case)
        return render_template("print.html", page=write_up(seen, _model(cases, seen)))

    @pages.get("/cases/<case>/close")
    def close_case(case: str) -> str:
        """Ask for complaint, cause and correction."""
        seen = look(cases, caller().shop, case)
        return render_template("close.html", page=write_up(seen, _model(cases, seen)), values=_before(cases, seen))

    @pages.post("/cases/<case>/<action>")
    def act(case: str, action: str) -> Page:
        """Write what a form says, and show the case again."""
        if action not in DOINGS:
            raise NotFound
        return _act(cases, case, action)


def _act(cases: CaseBook, case: str, action: str) -> Page:
    form, shop = forms.sent(), caller().shop
    before = cases.read(shop, case)
    body: dict[str, Json] = {}
    try:
        events: list[Body] = list(
            DOINGS[action](Doing(form, before, lambda: service.known_model(before.circuit, cases.engine)))
        )
        body = {"events": [*events]}
        write = forms.write(form)
        if action in JUDGED and before.version in form.seen:
            check(cases, shop, case, body)
        cases.append(case, body, write)
    except (RequestError, StaleCaseError) as error:
        names = names_of(_known(cases, before.circuit), (), before.costs.currency)
        url = url_for("pages.act", case=case, action=action)
        return entered(Try(form, action, url, case, body, names), error)
    then = "pages.close_case" if form.get("then") == "close" else "pages.case"
    return redirect(url_for(then, case=case), 303)


def _before(cases: CaseBook, seen: Look) -> dict[str, str]:
    model, now = _model(cases, seen), seen.advised.answer if seen.advised else None
    names = names_of(model, answers_of(seen), seen.case.costs.currency)
    proved = proved_good(seen.began, now, model) if seen.began and now and model else ()
    return prefilled(seen, names, proved)


def _model(cases: CaseBook, seen: Look) -> KnownModel | None:
    return _known(cases, seen.case.circuit)


def _known(cases: CaseBook, circuit: str) -> KnownModel | None:
    """Give a circuit's model; None where it cannot be had any more, which the page tells."""
    try:
        return service.known_model(circuit, cases.engine)
    except AdvisorError:
        return None
