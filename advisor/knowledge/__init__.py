"""Model files and what is made of them: documents, tests, compiled circuits."""
