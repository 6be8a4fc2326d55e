"""From stored results as printed to the effects of one study."""
