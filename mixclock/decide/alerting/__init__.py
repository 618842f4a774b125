"""What the crew must hear: which alerts stand, and which of them are to be raised now."""

from mixclock.decide.alerting.dayends import PlanSays
from mixclock.decide.alerting.raising import Raise, to_raise
from mixclock.decide.alerting.standing import alerts
