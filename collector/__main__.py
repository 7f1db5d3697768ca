"""`python -m collector` is the `cooldepth` command."""

from collector.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
