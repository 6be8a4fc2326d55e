"""The steps of the work, each joining reading, numbers, judgement and the catalogue."""
