"""What each quantity is: how it is read from the record of one coat on one area, and how it is judged."""
