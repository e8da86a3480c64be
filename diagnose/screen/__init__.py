"""The screen: a conversation in a terminal, or on plain lines where there is none. It computes nothing."""
