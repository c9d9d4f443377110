"""``python -m seamwalk``."""

import sys


def main() -> None:
    """Run the command line; a Ctrl-C while it is loaded ends like one while it works."""
    try:
        from seamwalk.cli import main as command_line
    except KeyboardInterrupt:
        from seamwalk import terminal

        sys.exit(terminal.stopped())
    command_line()


if __name__ == "__main__":
    main()
