"""Probability: hypotheses, findings, posteriors; knows no volts."""
