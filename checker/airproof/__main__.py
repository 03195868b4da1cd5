"""`python -m airproof`."""

from airproof.cli.start import entry

if __name__ == "__main__":
    entry()
