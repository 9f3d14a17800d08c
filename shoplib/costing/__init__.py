"""What each order earned: labour, metal at cost, losses, margins, and why one month differs from another."""

from .bridge import bridge, bridges
from .calendar import WorkingCalendar, working_calendar
from .cost import Costing, cost
from .groups import group_table
from .loads import busiest_skill, skill_loads

__all__ = ["Costing", "WorkingCalendar", "bridge", "bridges", "busiest_skill", "cost", "group_table", "skill_loads", "working_calendar"]
