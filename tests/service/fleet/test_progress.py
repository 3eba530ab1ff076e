"""How far, how fast, how long."""

import io

from feedproof.fleet.progress import Progress, pace


def test_rate_and_remaining_time_are_those_of_this_run() -> None:
    assert pace(50, 100, 10.0) == ("5 sets/s", "0:00:20")
    assert pace(7200, 3600 * 7200, 1.0) == ("7200 sets/s", "1:00:00")
    assert pace(0, 100, 10.0)[1] == "-:--:--"


def test_a_terminal_sees_rate_and_remaining_time() -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    progress = Progress(terminal)
    progress.show(100, 400)
    progress.show(150, 400)
    progress.close()
    text = terminal.getvalue()
    assert "150 of 400 sets" in text
    assert "sets/s" in text
    assert "left" in text


def test_a_log_gets_no_line_that_is_written_over() -> None:
    log = io.StringIO()
    progress = Progress(log)
    progress.show(150, 400)
    progress.close()
    assert log.getvalue() == ""
