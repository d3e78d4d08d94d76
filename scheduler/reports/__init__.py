"""Reports of a plan: on a terminal, as a printable page, as comma-separated values. They compute nothing new."""

from scheduler.reports.page import render_html
from scheduler.reports.tables import render_csv
from scheduler.reports.terminal import render_plan

__all__ = ["render_csv", "render_html", "render_plan"]
