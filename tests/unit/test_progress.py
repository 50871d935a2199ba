"""Progress is shown to whoever watches a terminal, and to nobody else."""

import io

from obverse.cli.progress import watched


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_a_terminal_sees_what_is_done_and_what_is_piped_stays_clean():
    seen, piped = Terminal(), io.StringIO()
    for stream in (seen, piped):
        with watched("reading the strip", stream) as progress:
            progress(0.5, "reading the patches")
    assert "reading the patches" in seen.getvalue() and piped.getvalue() == ""
