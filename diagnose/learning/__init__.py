"""Failure rates shifted by confirmed faults: counted from saved sessions, bounded, shown, and taken back."""
