"""``python -m seamwalk``."""

from seamwalk.cli import main

if __name__ == "__main__":
    main()
