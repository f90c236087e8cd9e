"""Bayesian symptom-to-cause advisor for vehicle electrical complaints."""
