"""Set up what the tests need, then run them all; arguments are passed on to pytest.

python3 .ci/test.py [PYTEST ARGUMENTS]
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - an older Python reads this line, and this line alone says why it stops
    sys.exit(f"error: the advisor needs Python 3.11 or newer, and this is {sys.version.split()[0]}")

import environment


def main() -> int:
    """Run the tests and give pytest's exit code."""
    try:
        return environment.run(
            "test", "python", "-m", "pytest", *(sys.argv[1:] or ["-n", "auto", "--dist", "worksteal"])
        )
    except environment.SetupError as error:
        print(f"error: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
