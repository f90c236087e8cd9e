"""Money and minutes: repairs, access, expected cost, worth of tests."""
