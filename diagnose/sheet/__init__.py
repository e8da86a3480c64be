"""The decision sheet: the order of checks for one panel and one complaint, compiled into a tree for paper."""
