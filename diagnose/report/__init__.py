"""A session as a record to keep: one file with what was done, found and mended; and a panel's sessions over time."""
