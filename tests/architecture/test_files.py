"""Which files the project has and what none of them may say."""

import re
import tomllib
from itertools import chain

from architecture.sources import ROOT, project_texts
from packaging.requirements import Requirement

TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "advisor", "api", "datasets", "models", "tests"}
# Put together here from parts, so that this file does not say what it forbids.
MACHINE_FOLDERS = ("root", "home", "work", "Users", "opt", "tmp", "private", "mnt")
REGISTRIES = ("pypi", "pythonhosted", "npmjs", "debian", "golang", "crates")
PIP_OPTIONS = ("index-url", "extra-index-url", "find-links", "trusted-host")
NEVER = re.compile(
    "|".join(
        (
            rf"(?<![\w.])/({'|'.join(MACHINE_FOLDERS)})/",
            rf"\b({'|'.join(REGISTRIES)})\.(org|com|io)\b",
            rf"--({'|'.join(PIP_OPTIONS)})\b",
            r"\bC:" + r"\\",
            r"\.\./" + "shared",
        )
    )
)


def test_top_level_is_exactly_the_known_names():
    """The top level holds the documents, the packages and the data, and nothing else but dot-files."""
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - {"__pycache__"} == TOP_LEVEL


def test_no_file_names_a_machine_or_a_registry():
    """No file of the project holds a path of one machine or the address of a package registry."""
    found = [
        f"{path}:{number}: {match.group()}"
        for path, text in project_texts()
        for number, line in enumerate(text.splitlines(), 1)
        if (match := NEVER.search(line))
    ]
    assert found == []


def test_the_watch_for_machine_paths_sees_one():
    """A planted path, a registry's host and an index option are each found."""
    planted = [f"/{folder}/x" for folder in MACHINE_FOLDERS]
    planted += [f"https://files.{registry}.org/simple" for registry in REGISTRIES]
    planted += [f"pip install --{option} x" for option in PIP_OPTIONS]
    planted += ["cat ../" + "shared/x", "C:" + "\\x"]
    assert [line for line in planted if not NEVER.search(line)] == []
    assert not NEVER.search("at models/library/parts.yaml, /usr/bin, advisor/work/x, pip install -e .")


def pins(name: str) -> dict[str, set[str]]:
    """Give the pinned versions of each package in a lock."""
    found: dict[str, set[str]] = {}
    for package, version in re.findall(r"^([a-z0-9.-]+)==(\S+)", (ROOT / ".ci" / name).read_text(), flags=re.MULTILINE):
        found.setdefault(package, set()).add(version)
    return found


def test_locks_agree():
    """What serving installs is part of what testing installs, version by version, and lacks the heavy libraries."""
    serving, testing = pins("start-lock.txt"), pins("lock.txt")
    assert {name: versions for name, versions in serving.items() if not versions <= testing.get(name, set())} == {}
    assert not {"pgmpy", "pandas"} & serving.keys()


def test_locks_satisfy_the_project_file():
    """Every requirement of the project file is pinned at a version that it allows."""
    testing = pins("lock.txt")
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    for line in chain(project["dependencies"], *project["optional-dependencies"].values()):
        wanted = Requirement(line)
        if wanted.name != "advisor":
            versions = testing[wanted.name.lower()]
            assert all(wanted.specifier.contains(version) for version in versions), f"{line}: {versions}"


def test_every_pin_has_a_hash():
    """Each package of both locks can be checked on arrival."""
    for name in ("lock.txt", "start-lock.txt"):
        blocks = re.split(r"^(?=[a-z])", (ROOT / ".ci" / name).read_text(), flags=re.MULTILINE)[1:]
        assert blocks
        assert [block.split()[0] for block in blocks if "--hash=sha256:" not in block] == []
