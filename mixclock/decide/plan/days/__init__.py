"""Coat after coat over the days, told as a plan, planned again from where things stand. Start with `planner`."""
