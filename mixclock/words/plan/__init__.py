"""A plan as people see it: in the terminal, on a page, as a picture, as JSON."""

from mixclock.words.plan.asjson import plan_json
from mixclock.words.plan.page import plan_page
from mixclock.words.plan.picture import plan_picture
from mixclock.words.plan.sheet import PlanSheet
from mixclock.words.plan.text import plan_lines
