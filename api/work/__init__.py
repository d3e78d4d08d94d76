"""Solving off the server's own process, through one executor; the store is the only channel to it."""

from api.work.changes import Changes
from api.work.dispatcher import Dispatcher
from api.work.executor import make_executor

__all__ = ["Changes", "Dispatcher", "make_executor"]
