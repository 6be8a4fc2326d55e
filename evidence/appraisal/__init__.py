"""Judgement: verdict, confidence with reasons, wording. Pure; rules live in data files with their sources."""
