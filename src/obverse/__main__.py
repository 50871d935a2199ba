"""`python -m obverse` is the command `obverse`."""

from obverse.cli import main

if __name__ == "__main__":
    main()
