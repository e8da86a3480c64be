"""What is known about kinds of part, complaints and checks: records, and the reader of knowledge/*.yaml."""
