"""Every error of the web edge: a problem document for programs, a page with a way back for people."""

from __future__ import annotations

from flask import Flask, Response, render_template, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response as AnyResponse

from advisor.contract.problem import MEDIA_TYPE, Problem, problem, problem_of
from advisor.errors import AdvisorError, BusyError, StoreAwayError
from api import logs
from api.paths import is_for_programs
from api.refused import Refused

KIND_OF_STATUS = {
    404: "not-found",
    405: "method-not-allowed",
    413: "too-large",
}


def install(app: Flask) -> None:
    """Turn everything that is raised into a problem."""
    app.register_error_handler(AdvisorError, _own)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Exception, _unexpected)


def _own(error: AdvisorError) -> Response:
    found = problem_of(error)
    if found.status >= 500 and not isinstance(error, BusyError):
        logs.failed(error, told=str(error))
    response = respond(found)
    if isinstance(error, StoreAwayError | BusyError):
        response.headers["Retry-After"] = str(error.retry_after)
    return response


def _http(error: HTTPException) -> Response | AnyResponse:
    if isinstance(error, Refused):
        response = respond(problem(error.kind, error.detail))
        response.headers.update(error.sent_with)
        return response
    status = error.code or 500
    if status < 400:
        return error.get_response()
    kind = KIND_OF_STATUS.get(status, "bad-request" if status < 500 else "internal-error")
    response = respond(problem(kind))
    for name, value in error.get_headers():
        if name == "Allow":
            response.headers[name] = value
    return response


def _unexpected(error: Exception) -> Response:
    # The text of an unforeseen error may hold anything that was sent: it goes neither to the caller nor to the log.
    logs.failed(error)
    return respond(problem("internal-error"))


def respond(found: Problem) -> Response:
    """Send a problem in the form that the address speaks."""
    if is_for_programs(request.path):
        return Response(found.model_dump_json(), found.status, mimetype=MEDIA_TYPE)
    return Response(render_template("problem.html", problem=found, back=None), found.status, mimetype="text/html")
