"""Run the command line from a checkout: python -m advisor.cli."""

from advisor.cli import main

main(prog_name="advisor")
