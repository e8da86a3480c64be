"""Formulas of wires, probes, elements, relays, water and protective devices, each with its source.

Pure functions on plain floats; the unit is in the name. Temperatures are in °C, everything else is in SI
units unless the name says otherwise. Arguments that make no physical sense raise `ValueError`.

Each number names its source. Where the source was recalled and not looked up, it says 'from memory'; where
it is what the trade does without a document behind it, it says 'common practice' or 'trade data'.
"""
