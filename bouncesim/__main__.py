"""The command `bouncesim`, and `python -m bouncesim`, which is the same."""

import os

from bouncesim.cli.stopping import leave, listen, stopped

# The matrices here are small. Where other programs keep the processors busy, threads that wait for one another made a doublet's equation
# over the band take 200 times as long; and what work takes is estimated for one core.
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


def program() -> int:
    """Run the command line of this process, and return its exit code."""
    listen()
    for variable in ONE_THREAD:
        os.environ.setdefault(variable, "1")  # before numpy loads
    try:
        from bouncesim.cli.main import main  # only now: an interrupt while it loads is answered too

        return main()
    except KeyboardInterrupt:
        return stopped()
    finally:
        leave()


if __name__ == "__main__":
    raise SystemExit(program())
