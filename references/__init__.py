"""Bibliographic records: reading, sameness, mentions, citing. A library of its own that knows nothing of evidence."""
