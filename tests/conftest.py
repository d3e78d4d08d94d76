"""What holds for all tests."""

from __future__ import annotations

import signal


def pytest_configure() -> None:
    """Commands that tests start hear Ctrl-C as in a terminal.

    A shell that runs the tests in the background has it ignored, and whatever they start would inherit that.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
