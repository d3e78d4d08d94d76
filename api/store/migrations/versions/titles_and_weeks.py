"""Title and week of the brief in columns of their own, for lists."""

from __future__ import annotations

import datetime as dt
import json

import sqlalchemy as sa
from alembic import op

revision = "titles_and_weeks"
down_revision = "first_tables"
branch_labels = None
depends_on = None

_JOBS = sa.table(
    "jobs",
    sa.column("number", sa.BigInteger),
    sa.column("request", sa.Text),
    sa.column("title", sa.Text),
    sa.column("week", sa.Date),
)


def upgrade() -> None:
    op.add_column("jobs", sa.Column("title", sa.Text))
    op.add_column("jobs", sa.Column("week", sa.Date))
    connection = op.get_bind()
    for number in connection.scalars(sa.select(_JOBS.c.number)).all():
        # One by one: together the documents may be more than there is memory.
        request = connection.scalar(sa.select(_JOBS.c.request).where(_JOBS.c.number == number))
        brief = json.loads(request or "{}").get("brief")
        if brief is not None:
            found = {"title": brief["title"], "week": dt.date.fromisoformat(brief["week"]["start"])}
            connection.execute(sa.update(_JOBS).where(_JOBS.c.number == number).values(found))


def downgrade() -> None:
    for column in ("week", "title"):
        op.drop_column("jobs", column)
