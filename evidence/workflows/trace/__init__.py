"""From a printed number to the figure in a sentence."""
