"""Where cases are kept: tables, migrations and transactions; what the events mean is not known here."""
