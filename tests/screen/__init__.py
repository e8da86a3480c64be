"""Tests of the conversation on a screen."""
