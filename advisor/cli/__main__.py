"""Run the command line from a checkout: python -m advisor.cli."""

from advisor.cli import main

if __name__ == "__main__":
    main(prog_name="advisor")
