"""What follows from the job as it stands: windows, alerts, plan, why, learning. Pure: no clock, no disk."""
