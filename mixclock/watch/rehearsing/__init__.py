"""Plays a job in minutes: a crew that works by rules, the real daemon on a fast clock, and a narrator."""
