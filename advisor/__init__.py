"""Bayesian symptom-to-cause advisor for vehicle electrical complaints.

    import advisor
    model = advisor.load("belt-reminder")
    answer = advisor.advise(model, {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-dark"}]})
"""

from advisor.errors import AdvisorError

__all__ = ["AdvisorError"]
