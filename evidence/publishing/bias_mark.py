"""Risk of bias as words with the beam of this product: a weight on a beam with one notch per judgement, best first.

The words come first; nothing is said by colour.
"""

from collections.abc import Sequence


def mark_bias(word: str, words: Sequence[str], *, ascii_only: bool = False) -> str:
    """`some concerns  ┼──▼──┼`; a word that is not on the beam stands alone."""
    if word not in words:
        return word
    notch, weight, beam = ("+", "V", "--") if ascii_only else ("┼", "▼", "──")
    return f"{word}  {beam.join(weight if each == word else notch for each in words)}"
