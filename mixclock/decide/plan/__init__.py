"""A day planned, lived through in numbers, and planned again from where things stand.

Four rooms, each of which imports only from those above it: `floor` (what there is to lay), `search` (one coat in one
stretch of time), `days` (coat after coat, told as a plan) and `judge` (how likely it holds, what is in its way).
"""
