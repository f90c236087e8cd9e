"""Requests and answers of every front end: parse into the domain, present from it."""
