"""A refit as one page that needs nothing else and prints well."""

from __future__ import annotations

import base64
import csv
import io
import json

from advisor.cli.filled import template
from advisor.cli.refit_pictures import calibrated, costs, moved
from advisor.refit.report import Report

COLUMNS = ("circuit", "cause", "factor", "low", "high", "orders", "from")
SCORES = (
    ("log_loss", "Log loss of the confirmed cause", "nat, lower is better", 3),
    ("top_1", "Confirmed cause ranked first", "share", 3),
    ("top_3", "Confirmed cause among the first three", "share", 3),
    ("brier_top", "Brier score of the likeliest cause", "one class", 4),
    ("reliability", "of it reliability", "lower is better", 4),
    ("resolution", "of it resolution", "higher is better", 4),
    ("uncertainty", "of it uncertainty", "", 4),
    ("brier_all", "Brier score, sum over all causes", "", 4),
    ("ece", "Calibration error of the likeliest cause", "10 bins of equal weight", 3),
    ("cost", "Cost to fix", "money, plans replayed", 1),
    ("tests", "Tests to the fix", "plans replayed", 2),
)
STATEMENTS = {
    "complaint": "the complaint, when it was looked at",
    "yes": "that it is there, where it shows",
    "no": "that it is not there, where it does not show",
}


def as_html(report: Report) -> str:
    """Give a report as a page."""
    pictures = {"moved": moved(report.movers), "calibrated": "", "costs": ""}
    if report.sides:
        pictures |= {"calibrated": calibrated(report.curves), "costs": costs(report.fixing)}
    links = {
        "rates.csv": _link("text/csv", rates_csv(report)),
        "candidate.json": _link("application/json", json.dumps(report.candidate, indent=1)),
    }
    return template("refit.html").render(
        report=report, pictures=pictures, links=links, scores=SCORES, statements=STATEMENTS, rates=rates(report)
    )


def rates(report: Report) -> dict[str, list[tuple[str, float, float, float, float, str]]]:
    """By circuit, a row for each cause that orders say something of: cause, factor, interval, orders, source."""
    found = {}
    for circuit, rows in report.learned.rates.items():
        causes = report.learned.coordinates.terms[circuit].model.compiled.causes
        values = (rows.factors, rows.known.low, rows.known.high, rows.events)
        numbers = zip(*(row.tolist() for row in values), strict=True)
        told = zip(causes, numbers, rows.known.from_handbook.tolist(), strict=True)
        every = [(cause, *number, "handbook" if book else "orders") for cause, number, book in told]
        found[circuit] = sorted(every, key=lambda row: -row[4])
    return found


def rates_csv(report: Report) -> str:
    """All factors as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for circuit, rows in rates(report).items():
        writer.writerows((circuit, cause, *(f"{x:.6g}" for x in numbers), source) for cause, *numbers, source in rows)
    return out.getvalue()


def _link(kind: str, content: str) -> str:
    return f"data:{kind};base64,{base64.b64encode(content.encode()).decode()}"
