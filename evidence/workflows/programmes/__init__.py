"""Programmes counted, annotated and held against those they are for."""
