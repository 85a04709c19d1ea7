"""``viscount`` and ``python -m viscount``."""

import sys


def main() -> None:
    """Run the command line and end with its exit status."""
    try:
        from viscount.cli import run

        status = run(sys.argv[1:])
    except KeyboardInterrupt:
        # Before any command had begun, so that nothing is lost.
        status = 130
    sys.exit(status)


if __name__ == "__main__":
    main()
