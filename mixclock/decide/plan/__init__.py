"""A day planned, lived through in numbers, and planned again from where things stand.

Start with `shapes` (what a plan is), then `batches`, `schedule` and `search`.
"""
