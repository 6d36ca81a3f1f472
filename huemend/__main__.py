"""``python -m huemend``."""

from huemend.cli import main

if __name__ == "__main__":
    main()
