"""The command line: the only reader of clock, environment, terminal and working directory."""

from __future__ import annotations

import gc
import sys

from ridgerule.cli.exits import Exit, told_as_ours
from ridgerule.problems import InputRejected


def main() -> None:
    """Run `ridgerule` and leave with its exit status; the console script."""
    # A short run makes many values and no circles of them: looking for circles costs a tenth.
    gc.set_threshold(2_000_000, 20, 20)
    from ridgerule.cli.app import run  # noqa: PLC0415 - typer is needed by no one else

    try:
        status = run(sys.argv[1:])
    except InputRejected as rejected:
        for problem in rejected.problems:
            print(problem, file=sys.stderr)
        status = Exit.UNUSABLE
    except BrokenPipeError:
        # The reader of our output went away, as `| head` does; nothing is left to say to it.
        sys.stderr.close()
        status = Exit.OURS
    except Exception as error:  # noqa: BLE001 - the one place where our own faults are told
        status = told_as_ours(error)
    sys.exit(status)
