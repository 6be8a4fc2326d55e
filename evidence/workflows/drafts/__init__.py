"""Drafts held against the catalogue: what is checked, tied, mended, and stored of them.

`knowing` gathers what the catalogue knows, `reading_sentences` what a sentence says, `binding` which claim it is
about; one module per family of findings; `checking` runs them all, `tying` proposes ties, `mending` writes copies.
"""
