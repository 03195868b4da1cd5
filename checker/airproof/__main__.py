"""`python -m airproof`."""

from airproof.cli.main import entry

if __name__ == "__main__":
    entry()
