"""Entry point: one clear sentence for every error, and the documented exit status."""

import os
import signal
import sys
from types import FrameType

EXIT_FAULT, EXIT_USAGE, EXIT_INTERRUPTED = 1, 2, 130


def main() -> None:
    """Run the command line and leave with its exit status.

    0 release, 1 fault of the tool or a plugin, 2 wrong use or configuration, 3 hold,
    4 a part could not be judged, 130 and 143 on SIGINT and SIGTERM.
    """
    signal.signal(signal.SIGTERM, _terminated)
    try:
        status = _run(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = EXIT_FAULT
    except KeyboardInterrupt:
        _say("interrupted; nothing was changed")
        status = EXIT_INTERRUPTED
    sys.exit(status)


def _terminated(number: int, frame: FrameType | None) -> None:
    del frame
    sys.exit(128 + number)


def _run(arguments: list[str]) -> int:
    import click

    from dfmcheck.cli.commands import cli
    from dfmcheck.errors import ConfigError, DfmcheckError

    try:
        result = cli.main(args=arguments, prog_name="dfmcheck", standalone_mode=False)
    except click.exceptions.Abort:
        raise KeyboardInterrupt from None
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except ConfigError as error:
        _say("\n".join(("the configuration is wrong:", *error.problems)))
        return error.exit_status
    except DfmcheckError as error:
        _say(str(error))
        return error.exit_status
    except (BrokenPipeError, KeyboardInterrupt):
        raise
    except Exception as error:
        if os.environ.get("DFMCHECK_TRACEBACK"):
            raise
        _say(
            f"a fault in dfmcheck, not in your parts: {type(error).__name__}: {error}\n"
            "Set DFMCHECK_TRACEBACK=1 and run again to see where; please report it with that text."
        )
        return EXIT_FAULT
    return result if isinstance(result, int) else 0


def _say(text: str) -> None:
    from dfmcheck.reporting.sanitise import clean

    lines = [clean(line, 2000) for line in text.splitlines() or [""]]
    sys.stderr.write("dfmcheck: " + "\n  ".join(lines) + "\n")
