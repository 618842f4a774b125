"""The board: one page for a phone in a bag, a tablet on the wall or the laptop, and the server behind it."""
