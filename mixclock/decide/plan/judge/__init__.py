"""How likely a plan holds, what is in its way and what frees it. Start with `replay`."""
