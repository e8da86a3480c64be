"""All that is wrong with panel files, cases, saved sessions and the knowledge base, found at once and sorted."""
