"""`python -m chamberwatch` and the `chamberwatch` command."""

from chamberwatch.cli import main

if __name__ == "__main__":
    main()
