"""The web edge: JSON API and pages; `api.app.create_app` makes it."""
