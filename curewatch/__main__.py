"""`python -m curewatch` is the `curewatch` command."""

from curewatch.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
