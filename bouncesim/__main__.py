"""The command `bouncesim`, and `python -m bouncesim`, which is the same."""

from bouncesim.cli.stopping import leave, listen, stopped


def program() -> int:
    """Run the command line of this process, and return its exit code."""
    listen()
    try:
        from bouncesim.cli.main import main  # only now: an interrupt while it loads is answered too

        return main()
    except KeyboardInterrupt:
        return stopped()
    finally:
        leave()


if __name__ == "__main__":
    raise SystemExit(program())
