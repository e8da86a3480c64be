"""A panel described by a dozen answers: questions, the nearest panel that comes along, and the file that they make."""
