"""Reports and the logbook."""
