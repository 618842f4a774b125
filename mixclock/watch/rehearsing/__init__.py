"""A job played in minutes: a crew that works by rules, the real daemon on a fast clock, and somebody who tells it."""
