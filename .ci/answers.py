"""Check an answer of the main job, for .ci/run: python3 .ci/answers.py FILE.json | http://ADDRESS:PORT/ ."""

import json
import sys
import urllib.request
from pathlib import Path
from typing import Any

REQUEST = {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-dark"}]}


def fetch(url: str, body: object = None) -> bytes:
    """Get a URL, or post a JSON body to it, and give what came back."""
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(url, data=data, headers={"Content-Type": "application/json"} if data else {})
    with urllib.request.urlopen(request, timeout=60) as response:
        return bytes(response.read())


def wrong_with(advice: dict[str, Any]) -> list[str]:  # Any: the answer as JSON, its keys are what is checked
    """List what a person would miss in the advice on the belt lamp: causes, the forgotten switch, valued tests."""
    shares = [cause["probability"] for cause in advice["causes"]]
    switch = [cause for cause in advice["causes"] if str(cause["cause"]).startswith("buckle-switch/")]
    checks = {
        "causes are ranked by falling probability": bool(shares) and shares == sorted(shares, reverse=True),
        "the buckle switch is ranked, and marked as not on the chart": bool(switch)
        and all(cause["on_chart"] is False for cause in switch),
        "tests have a worth": bool(advice["tests"]) and all("worth" in test for test in advice["tests"]),
        "a next step is named": "kind" in advice["next"],
    }
    return [check for check, holds in checks.items() if not holds]


def is_kept(where: str, advice: object) -> bool:
    """Open a case with the same complaint and say whether it is advised on alike."""
    complaint = {"circuit": "belt-reminder", "symptom": "lamp-stays-dark"}
    case = json.loads(fetch(f"{where}v1/cases", complaint))
    advised = json.loads(fetch(f"{where}v1/cases/{case['id']}/advice"))
    return bool(advised["advice"] == advice) and (case["version"], advised["version"]) == (1, 1)


def main(where: str) -> int:
    """Check the answer in a file or of a server and give the exit code."""
    if where.startswith("http"):
        if b"<html" not in fetch(where):
            print("not so: the page is HTML")
            return 1
        answer = fetch(f"{where}v1/advice", REQUEST)
        if not is_kept(where, json.loads(answer)):
            print("not so: a case with the same complaint is advised on alike")
            return 1
    else:
        answer = Path(where).read_bytes()
    problems = wrong_with(json.loads(answer))
    print(*(f"not so: {problem}" for problem in problems) if problems else ["answer as expected"], sep="\n")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
