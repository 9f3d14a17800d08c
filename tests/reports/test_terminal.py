"""What a run says: lines that cannot move the cursor, a bar where somebody watches."""

from __future__ import annotations

import io

from shoplib.reports.terminal import Terminal


def test_control_signs_become_dots() -> None:
    """Names come from the data."""
    out = io.StringIO()
    Terminal(out=out).say("a\x1b[31mb\nc\u202ed")
    assert out.getvalue() == "a·[31mb·c·d\n"


def test_quiet_says_nothing() -> None:
    """Neither lines nor bar."""
    out, bar = io.StringIO(), io.StringIO()
    terminal = Terminal(quiet=True, out=out, bar=bar)
    terminal.say("x")
    terminal.progress("simulating", 0.5)
    assert out.getvalue() + bar.getvalue() == ""


def test_details_are_said_when_asked_for() -> None:
    """-v."""
    out = io.StringIO()
    Terminal(out=out).detail("hidden")
    Terminal(verbose=True, out=out).detail("shown")
    assert out.getvalue() == "shown\n"


def test_the_bar_is_wiped_when_done() -> None:
    """The next line starts on a clean one."""
    bar = io.StringIO()
    terminal = Terminal(bar=bar)
    terminal.progress("simulating", 0.5)
    terminal.progress("simulating", 1.0)
    half, done = bar.getvalue().split("\r")[1:3]
    assert ("50%" in half, done.strip(), len(done) >= len(half)) == (True, "", True)


def test_without_a_terminal_there_is_no_bar() -> None:
    """A log file stays readable."""
    terminal = Terminal(bar=None)
    terminal.progress("simulating", 0.5)
    assert terminal.bar is None
