"""Packaged Citation Style Language files. README.md here tells their licence and our changes."""
