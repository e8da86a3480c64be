"""Rubbish in: what every reader of files, answers, requests and arguments makes of it."""
