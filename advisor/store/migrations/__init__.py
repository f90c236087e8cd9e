"""The steps from one release's tables to the next one's."""
