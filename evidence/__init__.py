"""Steelyard: claims about training, tied to the numbers they rest on. Public names live in the rooms below."""
