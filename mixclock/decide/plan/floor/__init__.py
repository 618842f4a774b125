"""What there is to lay, by whom and when it may be: no search. Start with `plans` and `pieces`."""
