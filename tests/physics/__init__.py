"""Behaviour of the formulas that no published value covers."""
