"""First tables: jobs, idempotency keys, API keys."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "first_tables"
down_revision = None
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")
_MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "jobs",
        sa.Column("number", _NUMBER, primary_key=True),
        sa.Column("id", sa.String(32), nullable=False, unique=True),
        sa.Column("tenant", sa.String(100), nullable=False),
        sa.Column("kind", sa.String(30), nullable=False),
        sa.Column("client", sa.Text, nullable=False),
        sa.Column("state", sa.String(10), nullable=False),
        sa.Column("status", sa.String(40)),
        sa.Column("request", sa.Text, nullable=False),
        sa.Column("answer", sa.Text),
        sa.Column("explanation", sa.Text),
        sa.Column("problem", sa.Text),
        sa.Column("progress", sa.Text),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("attempt", sa.Integer, nullable=False),
        sa.Column("losses", sa.Integer, nullable=False),
        sa.Column("beat", sa.Integer, nullable=False),
        sa.Column("stop_asked", sa.Boolean, nullable=False),
        sa.Column("plan_id", sa.String(32), sa.ForeignKey("jobs.id", ondelete="CASCADE")),
        sa.Column("new_plan_id", sa.String(32)),
        sa.Column("batch_id", sa.String(32)),
        sa.Column("line", sa.Integer),
        sa.Column("created_at", _MOMENT, nullable=False),
        sa.Column("started_at", _MOMENT),
        sa.Column("ended_at", _MOMENT),
    )
    op.create_index("jobs_by_state", "jobs", ["state", "number"])
    op.create_index("jobs_by_tenant", "jobs", ["tenant", "number"])
    op.create_index("ix_jobs_plan_id", "jobs", ["plan_id"])
    op.create_index("ix_jobs_batch_id", "jobs", ["batch_id"])
    op.create_table(
        "repeats",
        sa.Column("number", _NUMBER, primary_key=True),
        sa.Column("tenant", sa.String(100), nullable=False),
        sa.Column("key", sa.String(255), nullable=False),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("job_id", sa.String(32), sa.ForeignKey("jobs.id", ondelete="CASCADE"), nullable=False),
        sa.UniqueConstraint("tenant", "key", name="one_use_of_a_key"),
    )
    op.create_index("ix_repeats_job_id", "repeats", ["job_id"])
    op.create_table(
        "keys",
        sa.Column("id", sa.String(16), primary_key=True),
        sa.Column("tenant", sa.String(100), nullable=False),
        sa.Column("note", sa.String(200), nullable=False),
        sa.Column("secret_sha256", sa.String(64), nullable=False),
        sa.Column("scopes", sa.String(100), nullable=False),
        sa.Column("created_at", _MOMENT, nullable=False),
        sa.Column("expires_at", _MOMENT),
        sa.Column("revoked_at", _MOMENT),
    )
    op.create_index("ix_keys_tenant", "keys", ["tenant"])


def downgrade() -> None:
    for table in ("keys", "repeats", "jobs"):
        op.drop_table(table)
